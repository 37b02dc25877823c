package mail

import (
	"bufio"
	"context"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"net"
	netmail "net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

// box is a mail server (emersion/go-smtp, another program's code than the sender's) that
// keeps what it is given; refuse, where set, answers instead.
type box struct {
	sync.Mutex
	got    []string
	refuse func(try int) error
	tries  int
}

func (b *box) NewSession(*smtp.Conn) (smtp.Session, error) { return &session{b}, nil }

type session struct{ b *box }

func (s *session) Reset()                               {}
func (s *session) Logout() error                        { return nil }
func (s *session) Mail(string, *smtp.MailOptions) error { return nil }
func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.b.Lock()
	defer s.b.Unlock()
	s.b.tries++
	if s.b.refuse != nil {
		return s.b.refuse(s.b.tries)
	}
	return nil
}

func (s *session) Data(r io.Reader) error {
	body, err := io.ReadAll(r)
	s.b.Lock()
	defer s.b.Unlock()
	s.b.got = append(s.b.got, string(body))
	return err
}

func serve(t *testing.T, b *box) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	server := smtp.NewServer(b)
	server.Domain = "localhost"
	go func() { _ = server.Serve(l) }()
	t.Cleanup(func() { _ = server.Close() })
	return "smtp://" + l.Addr().String()
}

type clock struct {
	sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.Lock()
	defer c.Unlock()
	return c.now
}

func (c *clock) add(d time.Duration) {
	c.Lock()
	defer c.Unlock()
	c.now = c.now.Add(d)
}

func newRoom(t *testing.T, address string) (*Room, *clock) {
	t.Helper()
	c := &clock{now: time.Date(2026, 3, 2, 2, 0, 0, 0, time.UTC)}
	s, err := NewSMTP(address, "Wren <wren@example.com>")
	require.NoError(t, err)
	s.timeout = 2 * time.Second
	return New(pgtest.DB(t, postgres.WithClock(c.Now)), s), c
}

func letter() Mail {
	return Mail{Paper: "invoice", Number: "I0012", To: "ada@example.com", Subject: "Rechnung für die Beute", Body: "Dear Ada,\nthe invoice.\n", PDF: []byte("%PDF-1.4 test")}
}

func (r *Room) send(t *testing.T) bool {
	t.Helper()
	did, err := r.SendNext(t.Context())
	require.NoError(t, err)
	return did
}

func TestMailGoesOutOnceWithItsPaper(t *testing.T) {
	t.Parallel()
	b := &box{}
	r, _ := newRoom(t, serve(t, b))
	m, err := r.Queue(t.Context(), letter())
	require.NoError(t, err)
	require.Equal(t, "waiting", m.State())
	require.True(t, r.send(t))
	require.False(t, r.send(t), "nothing more waits")
	list, err := r.Of(t.Context(), "invoice", "I0012")
	require.NoError(t, err)
	require.Equal(t, "sent", list[0].State())
	require.Len(t, b.got, 1)
	msg, err := netmail.ReadMessage(strings.NewReader(b.got[0]))
	require.NoError(t, err)
	subject, err := new(mime.WordDecoder).DecodeHeader(msg.Header.Get("Subject"))
	require.NoError(t, err)
	require.Equal(t, "Rechnung für die Beute", subject)
	require.Contains(t, msg.Header.Get("Message-Id"), m.MessageID)
	_, params, err := mime.ParseMediaType(msg.Header.Get("Content-Type"))
	require.NoError(t, err)
	parts := multipart.NewReader(msg.Body, params["boundary"])
	text, err := parts.NextPart()
	require.NoError(t, err)
	words, err := io.ReadAll(text)
	require.NoError(t, err)
	require.Contains(t, string(words), "Dear Ada")
	pdf, err := parts.NextPart()
	require.NoError(t, err)
	require.Equal(t, "invoice-I0012.pdf", pdf.FileName())
	_, err = r.Again(t.Context(), m.ID)
	require.True(t, fault.Is(err, fault.Conflict), "what was sent is not sent again")
}

func TestServerThatIsBusyIsTriedAgain(t *testing.T) {
	t.Parallel()
	b := &box{refuse: func(try int) error {
		if try < 3 {
			return &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 3, 0}, Message: "come back later"}
		}
		return nil
	}}
	r, c := newRoom(t, serve(t, b))
	m, err := r.Queue(t.Context(), letter())
	require.NoError(t, err)
	require.True(t, r.send(t))
	require.False(t, r.send(t), "not before its time")
	m, err = r.Get(t.Context(), m.ID)
	require.NoError(t, err)
	require.Contains(t, m.Said, "come back later")
	c.add(2 * time.Minute)
	require.True(t, r.send(t))
	c.add(10 * time.Minute)
	require.True(t, r.send(t))
	m, err = r.Get(t.Context(), m.ID)
	require.NoError(t, err)
	require.Equal(t, "sent", m.State())
	require.Len(t, b.got, 1)
}

func TestRefusedMailIsGivenUp(t *testing.T) {
	t.Parallel()
	b := &box{refuse: func(int) error {
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no such person"}
	}}
	r, _ := newRoom(t, serve(t, b))
	m, err := r.Queue(t.Context(), letter())
	require.NoError(t, err)
	require.True(t, r.send(t))
	m, err = r.Get(t.Context(), m.ID)
	require.NoError(t, err)
	require.Equal(t, "given up", m.State())
	require.Contains(t, m.Said, "no such person")
	b.refuse = nil
	_, err = r.Again(t.Context(), m.ID)
	require.NoError(t, err)
	require.True(t, r.send(t))
	require.Len(t, b.got, 1)
}

func TestServerThatIsAwayIsGivenUpAtLast(t *testing.T) {
	t.Parallel()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	address := l.Addr().String()
	require.NoError(t, l.Close())
	r, c := newRoom(t, "smtp://"+address)
	m, err := r.Queue(t.Context(), letter())
	require.NoError(t, err)
	tries := 0
	for range 20 {
		if r.send(t) {
			tries++
		}
		c.add(25 * time.Hour)
	}
	require.Equal(t, len(waits)+1, tries)
	m, err = r.Get(t.Context(), m.ID)
	require.NoError(t, err)
	require.Equal(t, "given up", m.State())
}

// A server that takes the connection and then says nothing holds nobody up for long.
func TestServerThatHangs(t *testing.T) {
	t.Parallel()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			t.Cleanup(func() { _ = conn.Close() })
		}
	}()
	r, _ := newRoom(t, "smtp://"+l.Addr().String())
	m, err := r.Queue(t.Context(), letter())
	require.NoError(t, err)
	began := time.Now()
	require.True(t, r.send(t))
	require.Less(t, time.Since(began), 30*time.Second)
	m, err = r.Get(t.Context(), m.ID)
	require.NoError(t, err)
	require.Equal(t, "waiting", m.State())
}

// A server that falls silent after the whole mail may have taken it: nobody sends it again
// by itself.
func TestSilenceAfterTheMailIsNotSentAgain(t *testing.T) {
	t.Parallel()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		conn, err := l.Accept()
		if err != nil {
			return
		}
		defer func() { _ = conn.Close() }()
		say := func(s string) { _, _ = io.WriteString(conn, s+"\r\n") }
		say("220 here")
		in := bufio.NewScanner(conn)
		data := false
		for in.Scan() {
			line := in.Text()
			switch {
			case data && line == ".":
				return // not a word
			case data:
			case strings.HasPrefix(line, "EHLO"):
				say("250 here")
			case strings.HasPrefix(line, "DATA"):
				say("354 go on")
				data = true
			default:
				say("250 ok")
			}
		}
	}()
	r, c := newRoom(t, "smtp://"+l.Addr().String())
	m, err := r.Queue(t.Context(), letter())
	require.NoError(t, err)
	require.True(t, r.send(t))
	m, err = r.Get(t.Context(), m.ID)
	require.NoError(t, err)
	require.Equal(t, "given up", m.State())
	require.Equal(t, perhaps, m.Said)
	c.add(48 * time.Hour)
	require.False(t, r.send(t))
}

type never struct{}

func (never) Send(ctx context.Context, _ Mail) (Outcome, string) { <-ctx.Done(); return Sent, "" }

// The program stops while a mail is on its way: it is not sent a second time.
func TestStopInMidSending(t *testing.T) {
	t.Parallel()
	c := &clock{now: time.Date(2026, 3, 2, 2, 0, 0, 0, time.UTC)}
	r := New(pgtest.DB(t, postgres.WithClock(c.Now)), never{})
	m, err := r.Queue(t.Context(), letter())
	require.NoError(t, err)
	taken, err := r.take(t.Context())
	require.NoError(t, err)
	require.Equal(t, m.ID, taken.ID)
	none, err := r.take(t.Context())
	require.NoError(t, err)
	require.Nil(t, none, "leased")
	c.add(lease + time.Second)
	none, err = r.take(t.Context())
	require.NoError(t, err)
	require.Nil(t, none)
	m, err = r.Get(t.Context(), m.ID)
	require.NoError(t, err)
	require.Equal(t, perhaps, m.Said)
}

// Many servers on one queue: each mail goes out once.
func TestManySendersSendEachOnce(t *testing.T) {
	t.Parallel()
	b := &box{}
	r, _ := newRoom(t, serve(t, b))
	for range 12 {
		_, err := r.Queue(t.Context(), letter())
		require.NoError(t, err)
	}
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(func() {
			for {
				more, err := r.SendNext(context.WithoutCancel(t.Context()))
				if err != nil || !more {
					return
				}
			}
		})
	}
	wait.Wait()
	require.Len(t, b.got, 12)
}

func TestQueueRefuses(t *testing.T) {
	t.Parallel()
	r, _ := newRoom(t, "smtp://127.0.0.1:1")
	for name, edit := range map[string]func(*Mail){"no address": func(m *Mail) { m.To = "ada" }, "two lines": func(m *Mail) { m.Subject = "a\r\nBcc: x@example.com" }, "an address with a line": func(m *Mail) { m.To = "a@example.com\r\nBcc: x@example.com" }, "no subject": func(m *Mail) { m.Subject = " " }, "no paper": func(m *Mail) { m.PDF = nil }} {
		m := letter()
		edit(&m)
		_, err := r.Queue(t.Context(), m)
		require.True(t, fault.Is(err, fault.Invalid), "%s: %v", name, err)
	}
	_, err := New(r.db, nil).Queue(t.Context(), letter())
	require.True(t, fault.Is(err, fault.Conflict))
	for _, bad := range []string{"", "mail.example", "http://mail.example", "smtp://"} {
		_, err := NewSMTP(bad, "a@example.com")
		require.Error(t, err, bad)
	}
	_, err = NewSMTP("smtp://mail.example", "")
	require.Error(t, err)
	require.Equal(t, Later, outcomeOf(errors.New("no route")))
}
