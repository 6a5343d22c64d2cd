package main

import (
	"os"
	"syscall"
)

// mostMemory is the most memory in MB that a process that has ended had in use.
// Linux counts it in KiB.
func mostMemory(p *os.ProcessState) (float64, bool) {
	usage, ok := p.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0, false
	}
	return float64(usage.Maxrss) * 1024 / 1e6, true
}
