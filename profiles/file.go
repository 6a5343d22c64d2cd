package profiles

import (
	"echowright/preset/stricttoml"
)

// kind is the format of a device profile.
var kind = stricttoml.Kind{Name: "device", Version: 1, Limit: 1 << 20}

// deviceFile is a device profile as it stands in the file.
type deviceFile struct {
	Name  string `toml:"name"`
	Title string `toml:"title"`
	Notes string `toml:"notes"`

	Identity *identityFile        `toml:"identity"`
	Manners  mannersFile          `toml:"manners"`
	Checksum *ruleFile            `toml:"checksum"`
	Message  messagesFile         `toml:"message"`
	Control  *pairsFile           `toml:"control"`
	NRPN     *numbersFile         `toml:"nrpn"`
	RPN      *numbersFile         `toml:"rpn"`
	GPC      *gpcFile             `toml:"gpc"`
	Answers  []answerFile         `toml:"answer"`
	Scales   map[string]scaleFile `toml:"scale"`

	Line       *lineFile       `toml:"line"`
	Tap        *tapFile        `toml:"tap"`
	Loop       *loopFile       `toml:"loop"`
	Limits     *limitsFile     `toml:"limits"`
	Parameters []parameterFile `toml:"parameter"`
	Memory     *memoryFile     `toml:"memory"`
}

type identityFile struct {
	Manufacturer string `toml:"manufacturer"` // hex: "7D" or "00 20 01"
	Family       int    `toml:"family"`
	Member       int    `toml:"member"`
}

type mannersFile struct {
	GapMs    float64 `toml:"gap_ms"`
	Buffer   int     `toml:"buffer_bytes"`
	AnswerMs float64 `toml:"answer_ms"`
	FlashMs  float64 `toml:"flash_ms"`
	Retries  int     `toml:"retries"`
	Units    []int   `toml:"units"`
	Channels []int   `toml:"channels"` // counted from 1
	Running  bool    `toml:"running_status"`
}

type messagesFile struct {
	Set       *messageFile `toml:"set"`
	Ask       *messageFile `toml:"ask"`
	AskSlot   *messageFile `toml:"ask_slot"`
	WriteSlot *messageFile `toml:"write_slot"`
	Store     *messageFile `toml:"store"`
	Load      *messageFile `toml:"load"`
}

// messageFile is a message as a template, or one of the short forms that load
// and store may have.
type messageFile struct {
	Command int     `toml:"command"`
	Send    string  `toml:"send"`
	Reply   string  `toml:"reply"`
	Flash   bool    `toml:"flash"`    // takes as long as a write to memory
	PauseMs float64 `toml:"pause_ms"` // silence after it, where it needs more than the gap

	Program   int    `toml:"program"`    // Program Change, so many programs in a bank
	Bank      string `toml:"bank"`       // Bank Select before it: "both", "high", "low"
	FirstBank int    `toml:"first_bank"` // the bank of the first slot
	Control   *int   `toml:"control"`    // a controller: its value is the slot …
	Value     *int   `toml:"value"`      // … or always this
}

type answerFile struct {
	Match string `toml:"match"`
	Means string `toml:"means"`
	Says  string `toml:"says"`
}

type parameterFile struct {
	wayFile
	ownStepsFile
	Name     string               `toml:"name"` // in a line or tap: the role where it is not given
	Role     string               `toml:"role"`
	Scale    string               `toml:"scale"`
	Of       string               `toml:"of"` // the parameter of which this one is a share or a multiple
	ReachOf  string               `toml:"reach_of"`
	Reach    map[string][]float64 `toml:"reach"` // the values that each choice of reach_of leaves
	Rest     *int                 `toml:"rest"`  // the least code where it is not given
	RestStep int                  `toml:"rest_step"`

	Address *int       `toml:"address"`
	Memory  *fieldFile `toml:"memory"`
}

type fieldFile struct {
	At       int  `toml:"at"`
	Bytes    int  `toml:"bytes"` // 1 where it is not given
	LowFirst bool `toml:"low_first"`
	Bit      int  `toml:"bit"`    // the lowest bit that belongs to it
	Bits     int  `toml:"bits"`   // 0: the whole byte
	Split    int  `toml:"split"`  // code/split stands here …
	LowAt    *int `toml:"low_at"` // … and code%split there
	Offset   int  `toml:"offset"` // added to the code
	Signed   bool `toml:"signed"` // two's complement
}

type memoryFile struct {
	Slots    []int         `toml:"slots"`
	Bytes    int           `toml:"bytes"`
	Packing  string        `toml:"packing"`
	Name     *nameFile     `toml:"name"`
	Check    *checkFile    `toml:"check"`
	Fixed    []fixedFile   `toml:"fixed"`
	FileDump *fileDumpFile `toml:"file_dump"`
}

// fixedFile is bytes of a memory that are always the same.
type fixedFile struct {
	At    int      `toml:"at"`
	Bytes hexBytes `toml:"bytes"`
}

// fileDumpFile says that a slot travels as a MIDI File Dump.
type fileDumpFile struct {
	Type        string `toml:"type"`         // four characters, such as "BIN "
	Name        string `toml:"name"`         // such as "MEM{slot:dec2}"
	PacketBytes int    `toml:"packet_bytes"` // most stored bytes in a packet; 112 where it is not given
	OpenLoop    bool   `toml:"open_loop"`    // it answers nothing: the sender waits and goes on
}

type nameFile struct {
	At         int `toml:"at"`
	Characters int `toml:"characters"`
}

type checkFile struct {
	ruleFile
	From     int  `toml:"from"`
	To       int  `toml:"to"`
	At       int  `toml:"at"`
	Bytes    int  `toml:"bytes"` // 1 where it is not given, 2 for a CRC
	Bits     int  `toml:"bits"`  // of these; all where it is not given
	LowFirst bool `toml:"low_first"`
}

// required lists the keys without which a profile says nothing.
var required = []string{
	"name", "manners", "scale",
	"answer.*.match", "answer.*.means",
	"message.set.send", "message.ask.send", "message.ask.reply",
	"message.ask_slot.send", "message.ask_slot.reply",
	"message.write_slot.send",
	"line.names", "line.parameter.*.scale", "tap.names", "tap.parameter.*.scale", "loop.from",
	"parameter.*.name", "parameter.*.scale",
	"line.parameter.*.memory.at", "tap.parameter.*.memory.at", "parameter.*.memory.at",
	"memory.slots", "memory.fixed.*.at", "memory.fixed.*.bytes", "memory.file_dump.type", "memory.file_dump.name",
	"memory.name.at", "memory.name.characters",
	"memory.check.kind", "memory.check.from", "memory.check.to", "memory.check.at",
	"identity.manufacturer", "identity.family", "identity.member", "checksum.kind",
}
