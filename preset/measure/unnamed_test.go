package measure

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func TestNumbersGoToTheHeadsThatWereNamed(t *testing.T) {
	of := func(heads int, unnamed ...int) account {
		return account{fitted: fitted{machine: machine{delay: make([]float64, heads)}}, unnamed: unnamed}
	}
	require.Equal(t, []int{1, 2, 3}, of(3).numbers(nil))
	require.Equal(t, []int{2, 4, 6}, of(3).numbers([]int{2, 4, 6}))
	require.Equal(t, []int{unnamed, 2, 6}, of(3, 0).numbers([]int{2, 6}))
	require.Equal(t, []int{unnamed, 2, unnamed}, of(3, 0, 2).numbers([]int{2}))
}

func TestUnnamedHeadsAreLeftOut(t *testing.T) {
	made := func(feeds ...int) Result {
		heads := func() []preset.Head {
			return []preset.Head{{Head: 2, Delay: 100, Level: -5}, {Head: unnamed, Delay: 200}, {Head: 4, Delay: 300, Level: -3}}
		}
		return Result{
			Unit:  preset.Unit{Heads: heads(), Direct: &preset.Direct{EchoToDirect: -1}, Feedback: &preset.Feedback{Heads: feeds, Gain: -7}},
			Notes: []Note{{Heads: heads(), Feedback: &preset.Feedback{Heads: feeds}}},
		}
	}
	r := made(4)
	r.leaveOutUnnamed()
	require.Equal(t, []preset.Head{{Head: 2, Delay: 100, Level: -2}, {Head: 4, Delay: 300}}, r.Unit.Heads)
	require.Equal(t, preset.Decibels(-4), r.Unit.Direct.EchoToDirect, "the loudest that was named lies 3 dB below the loudest")
	require.Equal(t, []int{4}, r.Unit.Feedback.Heads)
	require.Len(t, r.Notes[0].Heads, 2)
	require.NotNil(t, r.Notes[0].Feedback)
	require.Empty(t, r.Warnings)

	r = made(unnamed)
	r.leaveOutUnnamed()
	require.Nil(t, r.Unit.Feedback)
	require.Nil(t, r.Notes[0].Feedback)
	require.Contains(t, said(r.Warnings), "fed by a head that was not named")

	plain := Result{Unit: preset.Unit{Heads: []preset.Head{{Head: 1, Level: -1}}}}
	plain.leaveOutUnnamed()
	require.Equal(t, preset.Decibels(-1), plain.Unit.Heads[0].Level, "nothing to leave out, nothing to do")
}
