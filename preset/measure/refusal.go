package measure

// Reason is why a take cannot be measured.
type Reason string

// The reasons.
const (
	Silence      Reason = "silence"
	OnlyNoise    Reason = "only noise"
	TooShort     Reason = "too short"
	NotFinite    Reason = "not finite"
	NoEcho       Reason = "no echo"
	FewerEchoes  Reason = "fewer echoes than heads"
	NoDirect     Reason = "no direct sound"
	NotExplained Reason = "not explained"
	MoreEchoes   Reason = "more echoes than heads"
	OtherTake    Reason = "another take"
	WrongChannel Reason = "wrong channel"
)

var advice = map[Reason]string{
	Silence:      "the take is silent: check which channel was recorded and its level",
	OnlyNoise:    "nothing in the take rises from its noise: record one damped note, with a moment of quiet before it",
	TooShort:     "the take is too short to hold a note and its echoes: record some seconds, until the repeats have died away",
	NotFinite:    "the take holds values that are no sound: export it again as PCM, or repair the file",
	NoEcho:       "no echo in the take: turn up the machine's echo volume, leave the heads on and damp the note at once",
	FewerEchoes:  "fewer echoes in the take than heads named: name only the heads that were on, or turn up the echo volume",
	NoDirect:     "the take holds echoes without their direct sound, so absolute delays are unknown: record the direct sound too, give it as a dry file, or name only the heads that were on",
	MoreEchoes:   "more heads sound than are named: name all heads that were on, in order of delay",
	OtherTake:    "the dry sound does not explain the machine's channel: give the direct sound of the same take, recorded at the same time",
	WrongChannel: "a channel holds what belongs in the other: the dry one must hold the direct sound alone, the other one the machine",
	NotExplained: "the echoes cannot be told from the note: record one short, damped note instead of a phrase",
}

// A Refusal says that a take holds nothing that could be measured, and why.
type Refusal struct {
	Reason Reason
	Detail string // what was seen, with figures; may be empty
}

func (r *Refusal) Error() string {
	if r.Detail == "" {
		return advice[r.Reason]
	}
	return advice[r.Reason] + " (" + r.Detail + ")"
}
