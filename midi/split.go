package midi

// Split cuts bytes as they are sent into messages: each begins where its status
// stands, or, under running status, where its first data byte does. Real-time
// bytes stay inside the message that they stand in. Nothing is lost: bytes that
// belong to no message stay with the one before.
func Split(b []byte) [][]byte {
	var all [][]byte
	start, status, have := 0, byte(0), 0
	cut := func(i int) {
		if i > start {
			all = append(all, b[start:i:i])
			start = i
		}
	}
	for i, c := range b {
		switch {
		case c >= TimingClock || c == EndOfSysEx:
		case c > MaxValue7:
			cut(i)
			status, have = c, 0
		case status >= 0x80 && status < StartOfSysEx:
			if have == int(channelLength[status>>4-8])-1 {
				cut(i)
				have = 0
			}
			have++
		}
	}
	cut(len(b))
	return all
}
