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
	Checksum *checksumFile        `toml:"checksum"`
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

type checksumFile struct {
	Kind string `toml:"kind"`
}

type messagesFile struct {
	Set       *messageFile `toml:"set"`
	Ask       *messageFile `toml:"ask"`
	AskSlot   *messageFile `toml:"ask_slot"`
	WriteSlot *messageFile `toml:"write_slot"`
	Store     *messageFile `toml:"store"`
	Load      *messageFile `toml:"load"`
}

type messageFile struct {
	Command int    `toml:"command"`
	Send    string `toml:"send"`
	Reply   string `toml:"reply"`
	Flash   bool   `toml:"flash"`
}

type answerFile struct {
	Match string `toml:"match"`
	Means string `toml:"means"`
	Says  string `toml:"says"`
}

type parameterFile struct {
	wayFile
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
	Slots   []int      `toml:"slots"`
	Bytes   int        `toml:"bytes"`
	Packing string     `toml:"packing"`
	Name    *nameFile  `toml:"name"`
	Check   *checkFile `toml:"check"`
}

type nameFile struct {
	At         int `toml:"at"`
	Characters int `toml:"characters"`
}

type checkFile struct {
	Kind       string `toml:"kind"`
	Polynomial int    `toml:"polynomial"`
	Start      int    `toml:"start"`
	Reflected  bool   `toml:"reflected"`
	FinalXOR   int    `toml:"final_xor"`
	From       int    `toml:"from"`
	To         int    `toml:"to"`
	At         int    `toml:"at"`
	LowFirst   bool   `toml:"low_first"`
}

// required lists the keys without which a profile says nothing.
var required = []string{
	"name", "manners", "scale",
	"answer.*.match", "answer.*.means",
	"message.set.send", "message.ask.send", "message.ask.reply",
	"message.ask_slot.send", "message.ask_slot.reply",
	"message.write_slot.send", "message.store.send", "message.load.send",
	"line.names", "line.parameter.*.scale", "tap.names", "tap.parameter.*.scale", "loop.from",
	"parameter.*.name", "parameter.*.scale",
	"line.parameter.*.memory.at", "tap.parameter.*.memory.at", "parameter.*.memory.at",
	"memory.slots", "memory.bytes", "memory.packing",
	"memory.name.at", "memory.name.characters",
	"memory.check.kind", "memory.check.from", "memory.check.to", "memory.check.at",
	"identity.manufacturer", "identity.family", "identity.member", "checksum.kind",
}
