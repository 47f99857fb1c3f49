package network

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"
)

// usage is what a process has used, from /proc (Linux).
type usage struct {
	cpu time.Duration
	rss int // kB
	top int // kB, the highest RSS so far
}

// ticksPerSecond is USER_HZ, 100 on every Linux architecture Go runs on.
const ticksPerSecond = 100

func usageOf(pid int) (usage, error) {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return usage{}, err
	}
	// The second field is in parentheses and may hold spaces.
	fields := strings.Fields(string(stat[strings.LastIndexByte(string(stat), ')')+1:]))
	var ticks int64
	for _, f := range fields[11:13] { // utime and stime: proc_pid_stat(5)
		n, err := strconv.ParseInt(f, 10, 64)
		if err != nil {
			return usage{}, err
		}
		ticks += n
	}
	u := usage{cpu: time.Duration(ticks) * time.Second / ticksPerSecond}
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return usage{}, err
	}
	for line := range strings.SplitSeq(string(status), "\n") {
		f := strings.Fields(line)
		if len(f) < 2 {
			continue
		}
		switch f[0] {
		case "VmRSS:":
			u.rss, _ = strconv.Atoi(f[1])
		case "VmHWM:":
			u.top, _ = strconv.Atoi(f[1])
		}
	}
	return u, nil
}

// quantile returns the q-quantile of times, 0 if there are none.
func quantile(times []time.Duration, q float64) time.Duration {
	if len(times) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(times))
	return s[min(len(s)-1, int(q*float64(len(s))))]
}
