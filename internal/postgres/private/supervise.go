//go:build unix

package private

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"
)

func (s *Server) logFile() string { return filepath.Join(s.opts.Dir, "server.log") }

// lastWords gives the last message of weight in the server's log.
func (s *Server) lastWords() string {
	text, err := os.ReadFile(s.logFile())
	if err != nil {
		return err.Error()
	}
	words := lastLine(text)
	for line := range strings.Lines(string(text)) {
		if strings.Contains(line, "FATAL:") {
			words = strings.TrimSpace(line)
		}
	}
	return words
}

func (s *Server) isStopping() bool {
	select {
	case <-s.stopping:
		return true
	default:
		return false
	}
}

// supervise keeps a server running until Stop. It holds its OS thread all the while,
// because the kernel ends the server when the thread that started it ends. A server that
// ends before it ever answered is given up; once it has, it is started again and again,
// since the pool is waiting for it.
func (s *Server) supervise() {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	defer close(s.done)
	defer s.clearAway() // what a server that was killed has left, when Stop comes right after
	pause := restartPause
	for !s.isStopping() {
		began := time.Now()
		err := s.runOnce()
		if s.isStopping() {
			return
		}
		if !s.answered.Load() {
			s.opts.Log.Error("the private PostgreSQL does not start", "error", err, "log", s.logFile())
			return
		}
		if time.Since(began) > time.Minute {
			pause = restartPause
		}
		s.opts.Log.Warn("the private PostgreSQL ended; starting it again", "error", err, "log", s.logFile())
		s.clearAway()
		select {
		case <-s.stopping:
			return
		case <-time.After(pause):
			pause = min(2*pause, 10*time.Second)
		}
	}
}

func (s *Server) clearAway() {
	if err := stopLeftovers(s.data); err != nil {
		s.opts.Log.Error("cannot clear away the ended PostgreSQL", "error", err)
	}
}

// runOnce starts the server and waits for its end.
func (s *Server) runOnce() error {
	_ = os.Rename(s.logFile(), s.logFile()+".1") // there is none the first time
	out, err := os.OpenFile(s.logFile(), os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	defer out.Close()
	last := syscall.SIGINT // "stop now, in good order"
	if s.opts.Throwaway {
		last = syscall.SIGQUIT // just stop
	}
	cmd := exec.Command(s.bin.path("postgres"), s.settings()...)
	cmd.Dir, cmd.Env, cmd.SysProcAttr = s.data, environment(), childAttr(s.id, last)
	cmd.Stdout, cmd.Stderr = out, out
	if err := cmd.Start(); err != nil {
		return err
	}
	s.process.Store(cmd.Process)
	return cmd.Wait()
}

func (s *Server) settings() []string {
	args := []string{"-D", s.data, "-k", s.run, "-c", "listen_addresses=", "-c", "timezone=UTC", "-c", "log_timezone=UTC"}
	if s.opts.Throwaway {
		args = append(args, "-c", "fsync=off", "-c", "full_page_writes=off", "-c", "synchronous_commit=off",
			"-c", "autovacuum=off", "-c", "max_connections=300", "-c", "wal_level=minimal", "-c", "max_wal_senders=0")
	}
	return args
}

// halt ends the supervisor and the server, with SIGINT and, when ctx ends, SIGQUIT.
func (s *Server) halt(ctx context.Context) error {
	close(s.stopping)
	if err := s.signalUntil(ctx, syscall.SIGINT); err == nil {
		return nil
	}
	last, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if err := s.signalUntil(last, syscall.SIGQUIT); err != nil {
		return fmt.Errorf("the private PostgreSQL in %s does not stop: %w", s.opts.Dir, err)
	}
	return nil
}

// signalUntil signals the server, again if another was just being started, until the
// supervisor has ended or ctx is over.
func (s *Server) signalUntil(ctx context.Context, signal syscall.Signal) error {
	for {
		if p := s.process.Load(); p != nil {
			_ = p.Signal(signal) // it may have ended since
		}
		select {
		case <-s.done:
			return nil
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(20 * time.Millisecond):
		}
	}
}
