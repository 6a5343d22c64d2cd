package profiles

import "echowright/midi"

type fileDump struct{}

func (b *builder) fileDump(path string, f fileDumpFile) *fileDump                  { return nil }
func (d *Device) fileDumpSteps(unit, slot int, memory []byte) ([]midi.Step, error) { return nil, nil }
func (d *Device) fileDumpMemory(messages []byte) (int, []byte, error)              { return 0, nil, nil }
