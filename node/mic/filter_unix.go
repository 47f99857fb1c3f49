//go:build portaudio && unix

package mic

import (
	"bufio"
	"log/slog"
	"os"
	"runtime/debug"
	"sync"
	"time"

	"golang.org/x/sys/unix"
)

const stderrFd = 2

// drainFor bounds the wait for the last lines: a child process that inherited
// standard error keeps the pipe open for as long as it lives.
const drainFor = 200 * time.Millisecond

// filter stands between the process's standard error and the terminal while
// PortAudio is in use, and takes out the chatter of the sound libraries.
type filter struct {
	real    *os.File // the standard error of before
	pipe    *os.File // what is printed now
	drained chan struct{}
}

// filters counts the nested users of the one standard error.
var filters struct {
	sync.Mutex
	users int
	first *filter
}

// quieten starts the filter. Without a pipe it does nothing: chatter on the
// screen is better than no microphone.
func quieten(log *slog.Logger) *filter {
	filters.Lock()
	defer filters.Unlock()
	filters.users++
	if filters.users == 1 {
		filters.first = install(log)
	}
	return filters.first
}

func install(log *slog.Logger) *filter {
	fd, err := unix.Dup(stderrFd)
	if err != nil {
		return &filter{}
	}
	unix.CloseOnExec(fd)
	r, w, err := os.Pipe()
	if err != nil {
		unix.Close(fd)
		return &filter{}
	}
	defer w.Close()
	f := &filter{real: os.NewFile(uintptr(fd), "stderr"), pipe: r, drained: make(chan struct{})}
	if err := unix.Dup2(int(w.Fd()), stderrFd); err != nil {
		r.Close()
		f.real.Close()
		return &filter{}
	}
	// A crash must be seen even though it kills the goroutine below.
	debug.SetCrashOutput(f.real, debug.CrashOptions{})
	go f.pass(log)
	return f
}

// pass forwards what is not chatter until the pipe has no writer left.
func (f *filter) pass(log *slog.Logger) {
	defer close(f.drained)
	defer f.pipe.Close()
	lines := bufio.NewReader(f.pipe)
	for {
		line, err := lines.ReadString('\n')
		switch {
		case line == "":
		case !isChatter(line):
			f.real.WriteString(line)
		case log != nil:
			log.Debug("sound library", "says", line)
		}
		if err != nil {
			return
		}
	}
}

// close gives standard error back when the last user closes.
func (f *filter) close() {
	filters.Lock()
	defer filters.Unlock()
	if filters.users--; filters.users > 0 || f.real == nil {
		return
	}
	unix.Dup2(int(f.real.Fd()), stderrFd)
	debug.SetCrashOutput(nil, debug.CrashOptions{})
	f.pipe.SetReadDeadline(time.Now().Add(drainFor))
	<-f.drained
	f.real.Close()
}
