package exchange

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/profiles/emulator"
)

// leftOpen notes an intent as a run that was killed has left it: slots 5 and 6
// are to hold what b.written means; half tells how far it came.
func (b *bench) leftOpen(t *testing.T, ctx context.Context, half func(asked []byte)) library.Intent {
	t.Helper()
	var spent Spent
	var old []Slot
	asked := b.Device.AppendSlot(nil, settingFor(b.Device, 0))
	for _, n := range []int{5, 6} {
		slot, err := b.readSlot(ctx, &spent, n)
		require.NoError(t, err)
		old = append(old, slot)
	}
	snapshot, err := b.keep(ctx, old, nil, "before")
	require.NoError(t, err)
	name, err := b.begin(ctx, doingRestore, "", snapshot, []content{{5, asked, true}, {6, asked, true}})
	require.NoError(t, err)
	half(asked)
	intent, err := b.Shelf.Intent(name)
	require.NoError(t, err)
	return intent
}

func TestResumeFinishesOrPutsBack(t *testing.T) {
	for _, c := range []struct {
		name string
		half func(t *testing.T, ctx context.Context, b *bench) func(asked []byte)
	}{
		{"before the first byte", func(*testing.T, context.Context, *bench) func([]byte) { return func([]byte) {} }},
		{"after the first slot", func(t *testing.T, ctx context.Context, b *bench) func([]byte) {
			return func(asked []byte) {
				require.NoError(t, b.writeAndVerify(ctx, &Spent{}, content{5, asked, true}))
			}
		}},
		{"after a hand at the knobs", func(t *testing.T, ctx context.Context, b *bench) func([]byte) {
			return func([]byte) {
				require.NoError(t, b.writeAndVerify(ctx, &Spent{}, content{6, b.memory(t, 9), true}))
			}
		}},
	} {
		for _, putBack := range []bool{false, true} {
			t.Run(c.name, func(t *testing.T) {
				onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
					want := map[int][]byte{5: b.memory(t, 5), 6: b.memory(t, 6)}
					if !putBack {
						want[5] = b.Device.AppendSlot(nil, b.written())
						want[6] = want[5]
					}
					intent := b.leftOpen(t, ctx, c.half(t, ctx, b))
					done, err := b.Resume(ctx, intent, ResumeOptions{PutBack: putBack})
					require.NoError(t, err)
					require.Equal(t, VerifiedYes, done.Verified)
					require.Equal(t, want, map[int][]byte{5: b.memory(t, 5), 6: b.memory(t, 6)})
					require.Empty(t, b.openIntents(t))
					if c.name == "after a hand at the knobs" {
						found, err := b.Shelf.Snapshot(done.Found)
						require.NoError(t, err)
						require.Equal(t, 6, found.Slots[0].Slot, "what somebody did since is kept")
					} else {
						require.Empty(t, done.Found)
					}
				})
			})
		}
	}
}

func TestResumeAfterTheDeviceCameBack(t *testing.T) {
	onTheBench(t, emulator.Options{WriteProtected: true}, func(t *testing.T, ctx context.Context, b *bench) {
		intent := b.leftOpen(t, ctx, func([]byte) {})
		_, err := b.Resume(ctx, intent, ResumeOptions{})
		require.ErrorContains(t, err, "stays in the journal")
		require.ErrorContains(t, err, "write-protected")
		require.Len(t, b.openIntents(t), 1)
		b.unit.Protect(false)
		done, err := b.Resume(ctx, intent, ResumeOptions{})
		require.NoError(t, err)
		require.Equal(t, []int{5, 6}, done.Written)
	})
}

func TestWhatASilentDeviceWasTold(t *testing.T) {
	onABench(t, "twin", emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		s := b.Device.Rest()
		s.Codes[b.Device.Parameter("line-1-time")] = 4000
		s.Codes[b.Device.Parameter("line-1-level")] = 100
		done, err := b.Push(ctx, 7, s, PushOptions{Note: "the first"})
		require.NoError(t, err)
		require.Equal(t, VerifiedUnreadable, done.Verified)
		require.Equal(t, HoldsAsked, done.Holds)
		require.Empty(t, done.Snapshot, "nothing was known of the slot")
		require.Empty(t, b.openIntents(t))

		other := s.Clone()
		other.Codes[b.Device.Parameter("line-1-time")] = 5000
		done, err = b.Push(ctx, 7, other, PushOptions{})
		require.NoError(t, err)
		last, err := b.Shelf.Snapshot(done.Snapshot)
		require.NoError(t, err)
		require.True(t, last.Sent)
		known, _, err := b.Device.SettingOf(last.Slots[0].Messages)
		require.NoError(t, err)
		require.Equal(t, s.Codes, known.Codes, "what was last known is the first push")

		c, err := b.Compare(ctx, done.Snapshot, []Placed{{From: 7, To: 7}}, RestoreOptions{})
		require.NoError(t, err)
		restored, err := b.Restore(ctx, c)
		require.NoError(t, err)
		require.Equal(t, VerifiedUnreadable, restored.Verified)
		time.Sleep(200 * time.Millisecond) // a store takes as long (twin.md)
		echoes, err := b.unit.Sound(7)
		require.NoError(t, err)
		played, err := echoes.Echoes(-60, 4000)
		require.NoError(t, err)
		require.InDelta(t, 1200*4000.0/16383, float64(played[0].At), 0.01, "the first push again (twin.md)")
	})
}
