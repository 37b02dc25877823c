package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

type serveCmd struct {
	Listen string `help:"Address to listen on; before KERFBOOK_LISTEN." placeholder:"HOST:PORT"`
	Data   string `help:"Folder of kerfbook's own PostgreSQL; before KERFBOOK_DATA." placeholder:"DIR"`
}

// Run serves until it is told to stop.
func (c serveCmd) Run(ctx context.Context, cfg Config, s streams) error {
	cfg, err := override(cfg, c.Listen, c.Data)
	if err != nil {
		return err
	}
	return serve(ctx, cfg, s, nil)
}

// override takes the flags that stand before the environment.
func override(cfg Config, listen, data string) (Config, error) {
	if listen != "" {
		cfg.Listen = listen
		if problem := checkListen(listen); problem != "" {
			return cfg, fault.New(fault.Invalid, "The flag --listen %s", problem)
		}
	}
	if data != "" {
		cfg.Data = data
	}
	return cfg, nil
}

// Limits of a connection, so that a slow or silent client cannot hold one for ever; a
// request has a limit of its own (see door.Options).
const (
	readHeaderLimit = 10 * time.Second
	readLimit       = 60 * time.Second
	writeLimit      = 90 * time.Second
	idleLimit       = 120 * time.Second
	headerBytes     = 64 << 10
)

// steps are what a command does besides: prepare before anybody can ask, ready once the
// first request would be answered. Either may be nil.
type steps struct {
	prepare func(context.Context, *book, *rooms) error
	ready   func(ctx context.Context, r *rooms, url string) error
}

// errEnough ends a server from its ready step without a failure.
var errEnough = errors.New("enough")

// serve opens the book, brings its tables up to date and serves it until ctx ends; then
// it finishes what runs, within the limit, and closes. ready, where given, is told the
// address once the first request would be answered, and may say more.
func serve(ctx context.Context, cfg Config, s streams, ready func(context.Context, *rooms, string) error) error {
	return serveWith(ctx, cfg, s, steps{ready: ready})
}

// serveWith is serve with further steps.
func serveWith(ctx context.Context, cfg Config, s streams, do steps) (err error) {
	log := cfg.logger(s.err)
	log.Info("starting", append([]any{"version", programVersion()}, cfg.describe()...)...)
	b, err := openBook(ctx, cfg, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.close(ctx)) }()
	if cfg.DatabaseURL == "" && !b.own() {
		return fmt.Errorf("a kerfbook is serving this folder already: stop it first, or name another with --data")
	}
	if err := postgres.Migrate(ctx, b.db); err != nil {
		return err
	}
	r := newRooms(b.db)
	defer r.searches.Close() // before the book: deferred later, done earlier
	if do.prepare != nil {
		if err := do.prepare(ctx, b, r); err != nil {
			return err
		}
	}
	if err := mayListen(ctx, cfg, r); err != nil {
		return err
	}
	h, err := r.handler(cfg, log)
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", cfg.Listen)
	if err != nil {
		return fmt.Errorf("listen on %s: %w", cfg.Listen, err)
	}
	srv := &http.Server{Handler: h, ReadHeaderTimeout: readHeaderLimit, ReadTimeout: readLimit, WriteTimeout: writeLimit, IdleTimeout: idleLimit,
		MaxHeaderBytes: headerBytes, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
	mailing, stopMail := context.WithCancel(ctx)
	mailed := make(chan struct{})
	go func() {
		defer close(mailed)
		r.answer.Mail.Run(mailing, mailEvery, func(err error) { log.Warn("mail not sent", "error", err) })
	}()
	defer func() { stopMail(); <-mailed }() // before the book is closed
	served := make(chan error, 1)
	go func() { served <- srv.Serve(listener) }()
	url := "http://" + listener.Addr().String()
	if do.ready == nil {
		_, err = fmt.Fprintf(s.out, "kerfbook is at %s\n", url)
	} else {
		err = do.ready(ctx, r, url)
	}
	if err == nil {
		err = r.until(ctx, log, served)
	}
	if errors.Is(err, errEnough) {
		err = nil
	}
	return errors.Join(err, stopServer(ctx, srv, cfg.StopLimit))
}

// mayListen refuses an address others can reach while nobody can sign in: the first to
// come could set the workshop up as theirs.
func mayListen(ctx context.Context, cfg Config, r *rooms) error {
	if loopback(cfg.Listen) {
		return nil
	}
	any, err := r.access.AccountAny(ctx)
	if err == nil && !any {
		err = fault.New(fault.Conflict, "%s can be reached from other machines, and nobody can sign in yet. Add an owner first: kerfbook user add NAME. Or listen on 127.0.0.1 and open the book in the browser.", cfg.Listen)
	}
	return err
}

// mailEvery is how often the queue of mail is looked at.
const mailEvery = 5 * time.Second

// tidyEvery is how often old kept answers are dropped.
const tidyEvery = time.Hour

// until waits for the end of ctx or of the server, and tidies meanwhile.
func (r *rooms) until(ctx context.Context, log *slog.Logger, served <-chan error) error {
	tick := time.NewTicker(tidyEvery)
	defer tick.Stop()
	for {
		if err := r.answers.Purge(ctx); err != nil && ctx.Err() == nil {
			log.Warn("old answers not dropped", "error", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case err := <-served:
			return fmt.Errorf("serve: %w", err)
		case <-tick.C:
		}
	}
}

// stopServer takes no new requests and waits for those that run.
func stopServer(ctx context.Context, srv *http.Server, limit time.Duration) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), limit)
	defer cancel()
	if err := srv.Shutdown(ctx); err != nil {
		return errors.Join(fmt.Errorf("stop: some requests were broken off: %w", err), srv.Close())
	}
	return nil
}
