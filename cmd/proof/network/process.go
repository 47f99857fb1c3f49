package network

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"
)

// Roles of child processes.
const (
	roleHub    = "role-hub"
	roleNodes  = "role-nodes"
	roleFind   = "role-find"
	roleFlood  = "role-flood"
	roleGuest  = "role-guest"
	rolePings  = "role-pings"
	rolePosers = "role-posers"
)

// roleEnv makes a test binary take a role instead of testing.
const roleEnv = "BELLROW_SOAK_ROLE"

// process is a child in some role, in a namespace or not.
type process struct {
	cmd  *exec.Cmd
	out  *lockedBuffer
	done chan struct{}
}

// lockedBuffer keeps the last of what a child prints.
type lockedBuffer struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.String()
}

// start starts this program in a role. ns is a network namespace, "" for none.
func start(ns, role string, args ...string) (*process, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	return launch(ns, roleEnv+"="+strings.Join(append([]string{role}, args...), "\n"),
		append(append(core(false), self, "network", role), args...))
}

// apart keeps roles that startApart started away from the others.
var apart atomic.Bool

// core names the cores of a role: the last one for those apart, the others for
// the rest.
func core(alone bool) []string {
	n := runtime.NumCPU()
	if _, err := exec.LookPath("taskset"); err != nil || n < 2 || !apart.Load() {
		return nil
	}
	if alone {
		return []string{"taskset", "-c", strconv.Itoa(n - 1)}
	}
	return []string{"nice", "-n", "-15", "taskset", "-c", fmt.Sprintf("0-%d", n-2)} // other work on this machine is not part of the trial
}

// startApart starts this program in a role on another laptop, as far as
// processor time goes: the last core is its own, where taskset can see to that
// and there are several, and it gets what the others leave.
func startApart(ns, role string, args ...string) (*process, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	return launch(ns, roleEnv+"="+strings.Join(append([]string{role}, args...), "\n"),
		append(append(core(true), "nice", "-n", "19", self, "network", role), args...))
}

// launch starts a program in a namespace with one more environment variable.
func launch(ns, env string, argv []string) (*process, error) {
	// ip netns exec replaces itself by the program, so that the pid is right.
	if ns != "" {
		argv = append([]string{"ip", "netns", "exec", ns}, argv...)
	}
	p := &process{cmd: exec.Command(argv[0], argv[1:]...), out: &lockedBuffer{}, done: make(chan struct{})}
	p.cmd.Env = append(os.Environ(), env)
	p.cmd.Stdout, p.cmd.Stderr = p.out, p.out
	if err := p.cmd.Start(); err != nil {
		return nil, fmt.Errorf("soak: starting %v: %w", argv, err)
	}
	go func() {
		defer close(p.done)
		p.cmd.Wait() // the exit status is in ProcessState
	}()
	return p, nil
}

// kill ends the process without any chance to tidy up.
func (p *process) kill() {
	p.cmd.Process.Signal(syscall.SIGKILL)
	<-p.done
}

// stop asks the process to end and waits.
// endWithin is how long a process that was told to end may take: a quiet machine's needs none of it.
const endWithin = 2 * time.Minute

func (p *process) stop(patience time.Duration) error {
	p.cmd.Process.Signal(syscall.SIGTERM)
	select {
	case <-p.done:
		if !p.cmd.ProcessState.Success() {
			return fmt.Errorf("soak: %v: %s", p.cmd.ProcessState, p.out)
		}
		return nil
	case <-time.After(patience):
		p.kill()
		return errors.New("soak: a process did not end in time")
	}
}

func (p *process) running() bool {
	select {
	case <-p.done:
		return false
	default:
		return true
	}
}
