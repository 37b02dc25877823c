package door

import (
	"context"
	"crypto/rand"
	"log/slog"
	"net/http"
	"regexp"
	"runtime/debug"
	"time"

	"kerfbook/internal/fault"
)

// Options are the settings of [Wrap].
type Options struct {
	// Log hears of every request and of our own mistakes; nil: slog.Default().
	Log *slog.Logger
	// Limit is how long one request may take; zero: 30 seconds.
	Limit time.Duration
	// TrustProxy takes X-Forwarded-For and X-Forwarded-Proto from a proxy in front.
	TrustProxy bool
}

const requestLimit = 30 * time.Second

// Wrap puts around a face what every request needs: an id, a time limit, secure headers,
// refusal of changes that another site asked a browser for, the access log, and a last
// net for panics.
func Wrap(next http.Handler, o Options) http.Handler {
	if o.Log == nil {
		o.Log = slog.Default()
	}
	if o.Limit == 0 {
		o.Limit = requestLimit
	}
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		Refuse(w, r, fault.New(fault.Forbidden, "This change was asked for by another site. Open kerfbook itself and do it there."))
	}))
	inner := cross.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		id := requestID(r)
		ctx, cancel := context.WithTimeout(context.WithValue(r.Context(), requestKey{}, about{id: id, proxy: o.TrustProxy}), o.Limit)
		defer cancel()
		r = r.WithContext(ctx)
		secure(w.Header(), id)
		seen := &watcher{ResponseWriter: w}
		defer func() {
			if p := recover(); p != nil {
				o.Log.ErrorContext(ctx, "panic", "request", id, "path", r.URL.Path, "panic", p, "stack", string(debug.Stack()))
				if seen.status == 0 {
					Refuse(seen, r, fault.New(fault.Internal, "panic"))
				}
			}
			o.Log.InfoContext(ctx, "request", "id", id, "method", r.Method, "path", r.URL.Path,
				"status", seen.status, "bytes", seen.bytes, "ms", time.Since(start).Milliseconds())
		}()
		inner.ServeHTTP(seen, r)
	})
}

// contentPolicy allows what the program serves itself and nothing inline.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func secure(h http.Header, id string) {
	h.Set("X-Request-Id", id)
	h.Set("Content-Security-Policy", contentPolicy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(self), geolocation=(self), microphone=()")
}

type requestKey struct{}

// about is what [Wrap] notes of a request.
type about struct {
	id    string
	proxy bool
}

// RequestID gives the id of the request in ctx.
func RequestID(ctx context.Context) string {
	a, _ := ctx.Value(requestKey{}).(about)
	return a.id
}

var goodID = regexp.MustCompile(`^[A-Za-z0-9._-]{8,64}$`)

func requestID(r *http.Request) string {
	if id := r.Header.Get("X-Request-Id"); goodID.MatchString(id) {
		return id
	}
	return rand.Text()[:16]
}

// watcher notes what was answered.
type watcher struct {
	http.ResponseWriter
	status int
	bytes  int64
}

func (w *watcher) WriteHeader(status int) {
	if w.status == 0 && status >= 200 {
		w.status = status
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *watcher) Write(b []byte) (int, error) {
	if w.status == 0 {
		w.status = http.StatusOK
	}
	n, err := w.ResponseWriter.Write(b)
	w.bytes += int64(n)
	return n, err
}

// Unwrap lets http.ResponseController reach what is inside.
func (w *watcher) Unwrap() http.ResponseWriter { return w.ResponseWriter }
