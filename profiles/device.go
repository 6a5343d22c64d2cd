package profiles

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"time"

	"echowright/midi"
)

// A Device is a device profile made ready for use.
type Device struct {
	Name  string
	Title string
	Notes string

	Identity   *Identity // nil: the device cannot be asked
	Manners    Manners
	FirstSlot  int
	LastSlot   int
	Parameters []Parameter // in the order of the profile; lines first
	Lines      []Line
	Limits     Limits
	Dry        int // index of the parameter for the dry level, None if there is none
	NameLength int // characters in a slot's name, 0 if it has none

	shared   map[Role]int // of the device as a whole
	apart    midi.Channel // 0: the channel goes with the unit number
	messages messages
	lowFirst bool // of a pair of controllers the low byte comes first
	nrpn     numberForm
	rpn      numberForm
	memory   memory
	source   []byte
}

// None stands where a device has no such parameter.
const None = -1

// Clock stands where a time is reckoned by the MIDI clock that the device follows.
const Clock = -2

// Identity is what the device answers to the universal Identity Request.
type Identity struct {
	Manufacturer   midi.Manufacturer
	Family, Member int
}

func (id Identity) String() string {
	return fmt.Sprintf("manufacturer %v, family %d, member %d", id.Manufacturer, id.Family, id.Member)
}

// Manners say how a device wants to be spoken to.
type Manners struct {
	Gap       time.Duration // silence after each message
	Buffer    int           // bytes that its input holds; 0: not stated
	Answer    time.Duration // the longest that an answer takes
	Flash     time.Duration // the longest that a write to memory takes
	Retries   int           // how often a message is sent again
	FirstUnit int           // the unit numbers that can be set
	LastUnit  int
	// The channels that can be set, 1 to 16. ByChannel is a device that has no
	// unit number beside its channel: the channel is what counts as one.
	FirstChannel, LastChannel int
	ByChannel                 bool
}

// A Role says what a parameter is to the echo.
type Role string

// The roles that the arranger knows; every other parameter is RoleOther and
// stays at its rest code.
const (
	RoleTime     Role = "time"
	RoleLevel    Role = "level"
	RolePolarity Role = "polarity"
	RoleFeedback Role = "feedback"
	RoleSource   Role = "source"
	RoleHighCut  Role = "high-cut"
	RoleLowCut   Role = "low-cut"
	RoleDry      Role = "dry"
	RoleDrive    Role = "drive"
	RoleOther    Role = "other"

	RoleNote             Role = "note"              // a note value that takes over from the time unless it is off
	RoleFeedbackTap      Role = "feedback-tap"      // chooses the tap that is fed back
	RoleFeedbackPolarity Role = "feedback-polarity" // of the loop alone
	RoleMix              Role = "mix"               // multiplies all echoes
	RoleBalance          Role = "balance"           // 0 %: the direct sound alone, 100 %: the echoes alone, half of each between
	RoleTempo            Role = "tempo"             // that note values are reckoned by
)

// The roles that a profile may give to the parameters of taps, lines, and the
// device as a whole. A line without taps of its own has those of its single tap.
var (
	tapRoles    = []Role{RoleTime, RoleNote, RoleLevel, RolePolarity, RoleOther}
	lineRoles   = []Role{RoleLevel, RolePolarity, RoleFeedback, RoleFeedbackTap, RoleFeedbackPolarity, RoleSource, RoleHighCut, RoleLowCut, RoleOther}
	commonRoles = []Role{RoleFeedback, RoleFeedbackTap, RoleFeedbackPolarity, RoleHighCut, RoleLowCut} // of all lines, if not of each
	sharedRoles = append([]Role{RoleDry, RoleDrive, RoleMix, RoleBalance, RoleTempo, RoleOther}, commonRoles...)
)

// A Parameter is one value that a device keeps, with the meaning of its codes.
type Parameter struct {
	Name    string
	Role    Role
	Scale   *Scale
	Address int // for single messages; None if it cannot be sent alone
	Rest    int // the code of a parameter that is not used: silent, off, out of the way
	// Of is the index of the parameter of which this one is a share (%) or a
	// multiple (note values of a tempo); None where it stands for itself, Clock
	// where it follows the MIDI clock.
	Of    int
	Reach *Reach // nil where every code can always be had
	field field
	way   *way // how it is set alone; nil: by its Address, or not at all
}

// Parameter is the index of the parameter of that name, None if there is none.
func (d *Device) Parameter(name string) int {
	return slices.IndexFunc(d.Parameters, func(p Parameter) bool { return p.Name == name })
}

// Shared is the index of the device's own parameter of that role, None if there
// is none. Parameters of lines and taps are theirs: see [Line] and [Tap]; one
// feedback or cut for all lines is both the device's and every line's.
func (d *Device) Shared(r Role) int { return indexOf(d.shared, r) }

// Source is the profile's own text, as it was read.
func (d *Device) Source() []byte { return slices.Clone(d.source) }

// SHA256 is the hash of the profile's own text, in hex.
func (d *Device) SHA256() string {
	sum := sha256.Sum256(d.source)
	return hex.EncodeToString(sum[:])
}

// lineOfSource is the line that a code of a line's source parameter chooses:
// its index, or None for the device's input.
func (d *Device) lineOfSource(word string) int {
	return slices.IndexFunc(d.Lines, func(l Line) bool { return l.Name == word })
}

// InputWord is the choice of a source parameter that stands for the input.
const InputWord = "input"

// SourceCode is the code by which the line's source parameter chooses a line
// (its index in Lines) or, with None, the input; false if it cannot.
func (d *Device) SourceCode(line Line, source int) (int, bool) {
	i := line.Parameter(RoleSource)
	if i == None {
		return 0, source == None
	}
	word := InputWord
	if source != None {
		word = d.Lines[source].Name
	}
	return d.Parameters[i].Scale.Choose(word)
}
