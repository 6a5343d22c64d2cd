package cli

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/library/exchange"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/arrange"
)

func TestWhatASlotHoldsInWords(t *testing.T) {
	d := fiveLine(t)
	song := plannedOn(t, "five-line", songOf(t, 100, library.Song{Mode: library.ModeSpeed, Note: "1/8."}))
	slot := func(name string) exchange.Slot {
		s := d.Rest()
		s.Name = name
		return exchange.Slot{Memory: d.AppendSlot(nil, s), Setting: s}
	}
	same := exchange.Slot{Memory: d.AppendSlot(nil, song.Setting), Setting: song.Setting}
	for want, held := range map[string]exchange.Slot{
		"this song already":        same,
		"mudflat":                  slot("mudflat"),
		"a setting without a name": slot(""),
		"no setting":               {Memory: []byte{1}, Fault: errors.New("its sum is wrong")},
	} {
		require.Equal(t, want, song.holdsWords(held, d))
		set := &plannedSet{device: d, songs: []plannedSong{song}, held: map[int]exchange.Slot{song.Slot: held}}
		v := viewSet(set).Songs[0].Holds
		require.Equal(t, &heldView{Name: held.Setting.Name, Setting: held.Fault == nil, Same: want == "this song already"}, v)
		require.Equal(t, want == "this song already", set.overwritten() == "nothing would be overwritten: all slots hold their songs")
	}
}

func TestHowASongIsFollowedInWords(t *testing.T) {
	for want, song := range map[string]library.Song{
		"1/8., head 3": {Mode: library.ModeSpeed, Note: "1/8."},
		"1/4, head 1":  {Mode: library.ModeSpeed, Note: "1/4", Head: 1},
		"grid":         {Mode: library.ModeGrid},
		"as it is":     {Mode: library.ModeNearest},
	} {
		p := plannedSong{broughtSong: songOf(t, 100, song)}
		require.Equal(t, want, p.noteWords())
	}
}

func TestWhatCannotBeHadInWords(t *testing.T) {
	echo := func(got bool) arrange.Echo {
		e := arrange.Echo{At: 100}
		if got {
			e.GotAt, e.GotLevel = &e.At, &e.Level
		}
		return e
	}
	for want, p := range map[string]plannedSong{
		"":                              {Result: arrange.Result{Echoes: []arrange.Echo{echo(true)}}},
		"1 of 2 echoes":                 {Result: arrange.Result{Echoes: []arrange.Echo{echo(true), echo(false)}}},
		"2 unasked":                     {Result: arrange.Result{Extra: make([]arrange.Extra, 2)}},
		"1 of 1 echo, 1 unasked":        {Result: arrange.Result{Echoes: []arrange.Echo{echo(false)}, Extra: make([]arrange.Extra, 1)}},
		"the loop by itself":            {beyond: make([]beyond, 1)},
		"the loop by itself, 3 unasked": {beyond: make([]beyond, 1), Result: arrange.Result{Extra: make([]arrange.Extra, 3)}},
	} {
		require.Equal(t, want, p.lackWords())
	}
}

func TestWhatIsMindedOfASetInWords(t *testing.T) {
	at := preset.Millis(100)
	song := func(title string, r arrange.Result, remarks ...string) plannedSong {
		p := plannedSong{Result: r}
		p.Title, p.remarks = title, remarks
		return p
	}
	set := &plannedSet{songs: []plannedSong{
		song("Flood", arrange.Result{}),
		song("Ebb", arrange.Result{Echoes: []arrange.Echo{{At: at}}}, "mind the step"),
		song("Neap", arrange.Result{Extra: make([]arrange.Extra, 1)}),
		song("Bore", arrange.Result{Extra: make([]arrange.Extra, 2)}),
	}}
	var told []string
	set.mindAll(func(text string) { told = append(told, text) })
	require.Equal(t, []string{
		"Ebb: mind the step",
		"Ebb: cannot be had: 1 of 1 echo; `echowright songs plan` tells more",
		"Neap: 1 echo comes unasked",
		"Bore: 2 echoes come unasked",
	}, told)
}

func TestWhatIsLeftOfASetInWords(t *testing.T) {
	of := func(endings ...ending) *setPushed {
		d := &setPushed{}
		for i, e := range endings {
			d.Songs = append(d.Songs, songPushed{Title: string(rune('A' + i)), Ended: e})
		}
		return d
	}
	for want, d := range map[string]*setPushed{
		"\nthe same command tries it again, and sends nothing that is there already":                                 of(endedWritten, endedSame, endedBefore),
		"\nafter `echowright resume` the same command tries it again, and sends nothing that is there already":       of(endedWritten, endedUnknown),
		"\nleft: \"C\": after `echowright resume` the same command goes on with what is not there yet":               of(endedWritten, endedUnknown, endedLeft),
		"\nleft: \"B\", \"C\", \"D\", \"E\", \"F\", and 2 more: the same command goes on with what is not there yet": of(endedBefore, endedLeft, endedLeft, endedLeft, endedLeft, endedLeft, endedLeft, endedLeft),
	} {
		require.Equal(t, want, d.leftWords())
	}
}

func TestEveryEndingOfASongHasItsWords(t *testing.T) {
	written := func(verified string) songPushed {
		return songPushed{Ended: endedAs(exchange.HoldsAsked), Pushed: exchange.Pushed{Verified: verified}}
	}
	for want, s := range map[string]songPushed{
		"its song: read back and verified":           written(exchange.VerifiedYes),
		"its song: sent, but it cannot be read back": written(exchange.VerifiedUnreadable),
		"its song, as before":                        {Ended: endedSame},
		"what it held before":                        {Ended: endedAs(exchange.HoldsBefore)},
		"not known: `echowright resume` finishes it": {Ended: endedAs(exchange.HoldsUnknown)},
		"not touched":                                {Ended: endedLeft},
	} {
		require.Equal(t, want, s.nowWords())
	}
	d := newSetPushed(&plannedSet{songs: []plannedSong{{}}})
	require.Equal(t, endedLeft, d.Songs[0].Ended, "until its turn comes")
	require.Equal(t, []profiles.Difference{}, d.Songs[0].Differences)
}
