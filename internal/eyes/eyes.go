// Package eyes looks at pages as a person does: in a headless Chromium of a phone's or
// a desk's size, with the rules of axe-core, and with an ear for console errors. It is
// for tests and for the pictures of the README; the program does not import it.
package eyes

import (
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// axeVersion is the release of axe-core whose rules are used (npm package axe-core).
const axeVersion = "4.14.1"

// Size is a screen in CSS pixels.
type Size struct {
	Name          string
	Width, Height int64
}

// The two screens: a phone held in one hand, and a desk.
var (
	Phone = Size{"phone", 360, 740}
	Desk  = Size{"desk", 1280, 800}
)

// Browser is one tab of a headless Chromium.
type Browser struct {
	tb   testing.TB
	ctx  context.Context
	base string
	Size Size

	mu       sync.Mutex
	problems []string
}

// Open starts a Chromium at a size; base is the address of the server. It fails the
// test where no Chromium is installed.
func Open(tb testing.TB, base string, size Size) *Browser {
	tb.Helper()
	var path string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		tb.Fatal("no Chromium is installed: ./deploy/check installs it")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.UserDataDir(tb.TempDir()), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("hide-scrollbars", true))
	alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), opts...)
	b := &Browser{tb: tb, base: base, Size: size}
	ctx, stop := chromedp.NewContext(alloc, chromedp.WithListener(b.hear))
	b.ctx = ctx
	tb.Cleanup(func() { stop(); stopAlloc() })
	// The context of the first step is the life of the browser, so it has no limit.
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(size.Width, size.Height)); err != nil {
		tb.Fatalf("start Chromium: %v", err)
	}
	return b
}

// hear notes what the console says is wrong.
func (b *Browser) hear(event any) {
	var what string
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		what = "exception: " + e.ExceptionDetails.Text
	case *runtime.EventConsoleAPICalled:
		if string(e.Type) != "error" && string(e.Type) != "warning" {
			return
		}
		what = "console " + string(e.Type)
		for _, a := range e.Args {
			what += " " + string(a.Value)
		}
	case *log.EventEntryAdded:
		if e.Entry.Level != log.EntryLevelError {
			return
		}
		what = "log: " + e.Entry.Text + " " + e.Entry.URL
	default:
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.problems = append(b.problems, what)
}

// limit is how long one step may take on a busy machine.
const limit = 60 * time.Second

func (b *Browser) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.tb.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, limit)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.tb.Fatalf("%s (%s): %v", what, b.Size.Name, err)
	}
}

// Eval runs an expression of script in the page, from outside the content policy, and
// gives its value.
func Eval[T any](b *Browser, expression string) T {
	b.tb.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, limit)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.tb.Fatalf("evaluate on %s: %v", b.Path(), err)
	}
	return v
}

// Path is where the tab is, without the server's address.
func (b *Browser) Path() string {
	ctx, cancel := context.WithTimeout(b.ctx, limit)
	defer cancel()
	at, err := chromedp.Run(ctx, chromedp.Location())
	if err != nil {
		return "?"
	}
	return strings.TrimPrefix(at, b.base)
}

// Go opens a path.
func (b *Browser) Go(path string) *Browser {
	b.tb.Helper()
	b.do("open "+path, chromedp.Navigate(b.base+path))
	return b
}

// Text is the visible text of the page.
func (b *Browser) Text() string {
	b.tb.Helper()
	return Eval[string](b, `document.body.innerText`)
}

// Has fails the test when the page does not show the words.
func (b *Browser) Has(words string) *Browser {
	b.tb.Helper()
	if text := b.Text(); !strings.Contains(squeeze(text), squeeze(words)) {
		b.tb.Fatalf("%s (%s) does not show %q:\n%s", b.Path(), b.Size.Name, words, text)
	}
	return b
}

func squeeze(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// Fill types into fields of the page's main form, by name; a value for a choice is the
// text or value of the option, "yes" ticks a box.
func (b *Browser) Fill(pairs ...string) *Browser {
	b.tb.Helper()
	for i := 0; i+1 < len(pairs); i += 2 {
		name, _ := json.Marshal(pairs[i])
		value, _ := json.Marshal(pairs[i+1])
		if wrong := Eval[string](b, fmt.Sprintf(fillScript, name, value)); wrong != "" {
			b.tb.Fatalf("fill %s on %s (%s): %s", pairs[i], b.Path(), b.Size.Name, wrong)
		}
	}
	return b
}

const fillScript = `(() => {
	const name = %s, value = %s;
	const all = [...document.querySelectorAll('[name="' + CSS.escape(name) + '"]')].filter(e => e.type !== 'hidden' && e.offsetParent !== null);
	if (all.length === 0) return 'no visible field of this name';
	const e = all[0];
	if (e.tagName === 'SELECT') {
		const o = [...e.options].find(o => o.value === value || o.text.trim() === value || (value !== '' && o.text.includes(value)));
		if (!o) return 'no choice ' + value + ' among ' + [...e.options].map(o => o.text).join(' / ');
		e.value = o.value;
	} else if (e.type === 'checkbox') {
		const c = value === 'yes' || value === 'no' ? e : all.find(x => x.value === value);
		if (!c) return 'no box of value ' + value;
		c.checked = value !== 'no';
	} else if (e.type === 'radio') {
		const r = all.find(x => x.value === value);
		if (!r) return 'no choice of value ' + value;
		r.checked = true;
	} else {
		e.value = value;
	}
	(e).dispatchEvent(new Event('input', {bubbles: true}));
	(e).dispatchEvent(new Event('change', {bubbles: true}));
	return '';
})()`

// Press taps the button or link with these words (its visible text, or what it is called
// for a screen reader) and waits for the next page.
func (b *Browser) Press(words string) *Browser {
	b.tb.Helper()
	w, _ := json.Marshal(words)
	before := Eval[float64](b, `performance.timeOrigin`)
	if wrong := Eval[string](b, fmt.Sprintf(pressScript, w)); wrong != "" {
		b.tb.Fatalf("press %q on %s (%s): %s\n%s", words, b.Path(), b.Size.Name, wrong, b.Text())
	}
	b.wait(before, "press "+words)
	return b
}

// wait waits until a page loaded after the instant before is complete.
func (b *Browser) wait(before float64, what string) {
	b.tb.Helper()
	for end := time.Now().Add(limit); ; time.Sleep(20 * time.Millisecond) {
		ready, err := b.next(before)
		if err == nil && ready {
			return
		}
		if time.Now().After(end) {
			b.tb.Fatalf("%s on %s (%s): no next page came (%v)", what, b.Path(), b.Size.Name, err)
		}
	}
}

// next reports whether a page loaded after the instant before is complete.
func (b *Browser) next(before float64) (bool, error) {
	ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[bool](fmt.Sprintf(`performance.timeOrigin !== %v && document.readyState === 'complete'`, before)))
	return v, err
}

const pressScript = `(() => {
	const words = %s.toLowerCase();
	const all = [...document.querySelectorAll('button, a[href], summary, input[type=submit]')];
	const called = e => (e.getAttribute('aria-label') || '').toLowerCase(), shown = e => (e.innerText || e.value || '').trim().toLowerCase();
	const seen = all.filter(e => e.offsetParent !== null || getComputedStyle(e).position === 'fixed' || e.closest('.reach'));
	const e = seen.find(e => shown(e) === words) || seen.find(e => called(e) === words) || seen.find(e => shown(e).includes(words)) || seen.find(e => called(e).includes(words));
	if (!e) return 'nothing to press with these words';
	e.scrollIntoView({block: 'center'});
	setTimeout(() => e.click(), 0);
	return '';
})()`

// Unfold opens every folded part of the page.
func (b *Browser) Unfold() *Browser {
	b.tb.Helper()
	Eval[bool](b, `(() => { document.querySelectorAll('details').forEach(d => d.open = true); return true })()`)
	return b
}

//go:embed look.js
var lookScript string

// Look fails the test when the page breaks a rule of axe-core, has said something wrong
// to the console, is wider than the screen, or has a target smaller than 44 px a side
// on the phone (the layout promises 48; borders and rounding take some).
func (b *Browser) Look() *Browser {
	b.tb.Helper()
	for _, p := range b.Problems() {
		b.tb.Errorf("%s (%s): %s", b.Path(), b.Size.Name, p)
	}
	Eval[bool](b, "(() => {\n"+axe(b.tb)+"\nreturn true })()")
	for _, p := range Eval[[]string](b, lookScript) {
		b.tb.Errorf("%s (%s): %s", b.Path(), b.Size.Name, p)
	}
	return b
}

// Problems gives what the console said so far, and forgets it.
func (b *Browser) Problems() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	p := b.problems
	b.problems = nil
	return p
}

// Picture writes a PNG of the whole page.
func (b *Browser) Picture(path string) *Browser {
	b.tb.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, limit)
	defer cancel()
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(path, png, 0o644)
	}
	if err != nil {
		b.tb.Fatalf("picture of %s: %v", b.Path(), err)
	}
	return b
}

var axeOnce = sync.OnceValues(findAxe)

func axe(tb testing.TB) string {
	tb.Helper()
	script, err := axeOnce()
	if err != nil {
		tb.Fatalf("axe-core %s: %v", axeVersion, err)
	}
	return script
}

// findAxe reads axe-core from the folder of KERFBOOK_TEST_AXE, else from a folder in the
// user's cache into which npm puts it the first time.
func findAxe() (string, error) {
	dir := os.Getenv("KERFBOOK_TEST_AXE")
	if dir == "" {
		cache, err := os.UserCacheDir()
		if err != nil {
			return "", err
		}
		dir = filepath.Join(cache, "kerfbook-tests", "axe-core-"+axeVersion)
	}
	file := filepath.Join(dir, "node_modules", "axe-core", "axe.min.js")
	if body, err := os.ReadFile(file); err == nil {
		return string(body), nil
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", err
	}
	out, err := exec.Command("npm", "install", "--no-audit", "--no-fund", "--prefix", dir, "axe-core@"+axeVersion).CombinedOutput()
	if err != nil {
		return "", errors.Join(err, errors.New(string(out)))
	}
	body, err := os.ReadFile(file)
	return string(body), err
}
