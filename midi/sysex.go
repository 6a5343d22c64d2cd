package midi

import "fmt"

// AllUnits is the device number that every unit on the line answers to.
const AllUnits = 0x7F

// SysEx puts F0 before and F7 behind the body, which is everything between them.
func SysEx(body []byte) ([]byte, error) {
	return AppendSysEx(make([]byte, 0, len(body)+2), body)
}

// AppendSysEx appends to dst the message that SysEx makes. The body must have at
// least one byte (the manufacturer's number) and only bytes up to 7F; if not,
// dst is given back as it was.
func AppendSysEx(dst, body []byte) ([]byte, error) {
	if len(body) == 0 {
		return dst, fmt.Errorf("system exclusive: an empty body: at least the manufacturer's number belongs there")
	}
	for i, b := range body {
		if b > MaxValue7 {
			return dst, fmt.Errorf("system exclusive: byte %d of the body: %w",
				i, &RangeError{What: "data byte", Got: int(b), Min: 0, Max: MaxValue7})
		}
	}
	dst = append(dst, StartOfSysEx)
	dst = append(dst, body...)
	return append(dst, EndOfSysEx), nil
}

// IdentityRequest asks a unit, 0 to 127, who it is; [AllUnits] asks all of them
// (M1 page 40).
func IdentityRequest(unit int) ([]byte, error) {
	if unit < 0 || unit > AllUnits {
		return nil, &RangeError{What: "identity request: unit", Got: unit, Min: 0, Max: AllUnits}
	}
	return []byte{StartOfSysEx, 0x7E, byte(unit), 0x06, 0x01, EndOfSysEx}, nil
}
