package web

import (
	"bytes"
	"crypto/rand"
	"errors"
	"io"
	"maps"
	"mime/multipart"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/door"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
)

// Body limits in bytes: typed forms, and forms with photos.
const (
	textLimit   = 1 << 20
	uploadLimit = 6 << 20
)

// The hidden fields every form carries; the partial "formtop" writes them.
const (
	keyField     = "_key"     // idempotency key: sent twice, it works once
	versionField = "_version" // of the record the form was filled from
	nameField    = "_form"    // which form of a page with several
)

const (
	formIn   = "form"
	statusIn = "status"
)

// Form is one form of a page: what stands in its fields, and what is wrong with it. It is
// the same for the page that shows it and for the post that takes it, so that nothing
// typed is lost.
type Form struct {
	Name    string // of this form on its page; empty when there is one only
	Key     string
	Version int
	Sent    bool   // filled by a person, not from a record
	Problem string // what is wrong as a whole; empty when nothing is
	Stale   bool   // the record changed since the form was filled

	values url.Values
	files  map[string][]*multipart.FileHeader
	wrong  map[string]string // by field name
	order  []string          // of the wrong fields
}

// formOf gives the form a request sent, or an empty one. With several forms on a page name
// says which is meant, and the others are empty.
func formOf(c echo.Context, name ...string) *Form {
	want := strings.Join(name, "")
	if f, ok := c.Get(formIn).(*Form); ok && f.Name == want {
		return f
	}
	return &Form{Name: want, Key: rand.Text(), values: url.Values{}, wrong: map[string]string{}}
}

// Fill puts a value into a field that nobody has typed into yet; a page calls it for each
// field of the record it shows.
func (f *Form) Fill(name, value string) {
	if !f.Sent && !f.values.Has(name) {
		f.values.Set(name, value)
	}
}

// FillTick is Fill for a box to tick.
func (f *Form) FillTick(name string, on bool) {
	if on {
		f.Fill(name, "yes")
	}
}

// FillVersion names the version of the record the page shows. A form that was refused as
// stale takes the new one: the person has been told, and may send it again.
func (f *Form) FillVersion(version int) {
	if !f.Sent || f.Stale {
		f.Version = version
	}
}

// Text gives what was typed, without space around it.
func (f *Form) Text(name string) string { return strings.TrimSpace(f.values.Get(name)) }

// Secret gives a password as it was typed.
func (f *Form) Secret(name string) string { return f.values.Get(name) }

// All gives every value of a repeated field.
func (f *Form) All(name string) []string { return f.values[name] }

// Ticked reports whether a box was ticked.
func (f *Form) Ticked(name string) bool { return f.values.Get(name) != "" }

// Int reads a whole number from low to high; anything else is noted at the field. Empty
// gives 0 and is noted too.
func (f *Form) Int(name string, low, high int64) int64 {
	n, err := strconv.ParseInt(f.Text(name), 10, 64)
	if err != nil || n < low || n > high {
		f.Wrong(name, "Write a whole number from "+strconv.FormatInt(low, 10)+" to "+strconv.FormatInt(high, 10)+".")
		return 0
	}
	return n
}

// Decimal reads a number with at most so many decimals, zero or more; anything else is
// noted at the field.
func (f *Form) Decimal(name string, places int32) decimal.Decimal {
	d, ok := show.Decimal(f.Text(name), places)
	if !ok || d.IsNegative() {
		f.Wrong(name, "Write a number such as 12"+map[bool]string{true: ".5", false: ""}[places > 0]+".")
	}
	return d
}

// Money reads an amount of zero or more into minor units; anything else is noted at the
// field.
func (f *Form) Money(name string, cur show.Currency) int64 {
	n, ok := cur.Parse(f.Text(name))
	if !ok || n < 0 {
		f.Wrong(name, "Write an amount such as "+cur.Plain(8050)+".")
		return 0
	}
	return n
}

// Date reads a date of a date field; nil when the field is empty, noted when it is no date.
func (f *Form) Date(name string) *time.Time {
	if f.Text(name) == "" {
		return nil
	}
	day, err := time.Parse(time.DateOnly, f.Text(name))
	if err != nil || day.Year() < 1800 || day.Year() > 2200 {
		f.Wrong(name, "Write a date such as 2026-03-14.")
		return nil
	}
	return &day
}

// ID reads the id of a chosen record; 0 when nothing is chosen.
func (f *Form) ID(name string) int64 {
	if f.Text(name) == "" {
		return 0
	}
	return f.Int(name, 1, 1<<53)
}

// File gives an uploaded file and its name; nil when none was chosen.
func (f *Form) File(name string) ([]byte, string, error) {
	list := f.files[name]
	if len(list) == 0 || list[0].Size == 0 {
		return nil, "", nil
	}
	file, err := list[0].Open()
	if err != nil {
		return nil, "", err
	}
	defer file.Close()
	body, err := io.ReadAll(file)
	return body, list[0].Filename, err
}

// Wrong notes what is wrong with a field; the first note stays.
func (f *Form) Wrong(name, sentence string) {
	if _, twice := f.wrong[name]; !twice {
		f.wrong[name] = sentence
		f.order = append(f.order, name)
	}
}

// Err gives an error when any field was noted as wrong.
func (f *Form) Err() error {
	var l fault.List
	for _, name := range f.order {
		l.Add("/"+strings.ReplaceAll(name, ".", "/"), "%s", f.wrong[name])
	}
	return l.Err()
}

// fail takes in what a room said: sentences to their fields, and the whole to the top.
func (f *Form) fail(err error) {
	p := door.ProblemOf(err)
	f.Stale = p.Status == http.StatusPreconditionFailed
	for _, e := range p.Errors {
		f.Wrong(strings.ReplaceAll(strings.TrimPrefix(e.Pointer, "/"), "/", "."), e.Detail)
	}
	f.Problem = p.Detail
	if f.Stale {
		f.Problem += " What you typed is kept below; send it again to put it over the change."
	}
}

// WrongField is one line of the summary at the top of a form.
type WrongField struct{ Name, Sentence string }

// Summary lists what is wrong, in the order it was found.
func (f *Form) Summary() []WrongField {
	var list []WrongField
	for _, name := range f.order {
		list = append(list, WrongField{name, f.wrong[name]})
	}
	return list
}

// Field is one field as the partials "field", "text", "choice" and "tick" show it.
type Field struct {
	ID, Name, Label, Value, Wrong, Hint  string
	Type, Mode, Auto, Unit, Min, Max     string
	Required, Ticked, Guess, Big, Shorts bool
	Choices                              []Choice
}

// Choice is one line of a choice.
type Choice struct {
	Value, Text string
	Chosen      bool
}

// Field describes a field to its partial. Options are "type=", "mode=" (numeric, decimal,
// tel), "auto=" (autocomplete), "hint=", "unit=", "min=", "max=", "required", "guess"
// (marked as a guess).
func (f *Form) Field(name, label string, options ...string) Field {
	id := "f-" + strings.NewReplacer(".", "-", "_", "-").Replace(name)
	if f.Name != "" {
		id = "f-" + f.Name + "-" + id[2:]
	}
	d := Field{ID: id, Name: name, Label: label, Value: f.values.Get(name), Wrong: f.wrong[name], Ticked: f.Ticked(name), Type: "text", Auto: "off"}
	for _, o := range options {
		key, value, _ := strings.Cut(o, "=")
		switch key {
		case "type":
			d.Type = value
		case "mode":
			d.Mode = value
		case "auto":
			d.Auto = value
		case "hint":
			d.Hint = value
		case "unit":
			d.Unit = value
		case "min":
			d.Min = value
		case "max":
			d.Max = value
		case "required":
			d.Required = true
		case "guess":
			d.Guess = true
		default:
			panic("web: field " + name + ": unknown option " + o)
		}
	}
	if d.Type == "password" {
		d.Value = "" // never sent back
	}
	return d
}

// Choose is Field for a choice from a list.
func (f *Form) Choose(name, label string, choices []Choice, options ...string) Field {
	d := f.Field(name, label, options...)
	for _, c := range choices {
		c.Chosen = c.Value == d.Value
		d.Choices = append(d.Choices, c)
	}
	return d
}

// retry is an error of a form with the page that shows it again.
type retry struct {
	error
	show echo.HandlerFunc
}

func (r retry) Unwrap() error { return r.error }

// again gives back an error of a form so that show renders the page with what was typed
// and what is wrong, after everything that was begun has been undone.
func again(err error, show echo.HandlerFunc) error { return retry{err, show} }

// withForm reads the form; once makes its key work once.
func (s *Server) withForm(once bool, next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		f, body, err := readForm(c.Request())
		if err != nil {
			return err
		}
		c.Set(formIn, f)
		if once && f.Key != "" {
			err = s.once(c, f, body, next)
		} else {
			err = next(c)
		}
		var r retry
		if !errors.As(err, &r) {
			return err
		}
		s.note(c, r.error)
		f.fail(r.error)
		c.Set(statusIn, door.StatusOf(r.error))
		return r.show(c)
	}
}

// once holds the answer back until it is stored with what it did.
func (s *Server) once(c echo.Context, f *Form, body []byte, next echo.HandlerFunc) error {
	r, w := c.Request(), c.Response()
	err := door.Once(saidWriter{w, r}, r, s.Answers, person(c).ID, f.Key, body, func(rec http.ResponseWriter, inner *http.Request) error {
		c.SetRequest(inner)
		c.SetResponse(echo.NewResponse(rec, s.echo))
		defer func() { c.SetRequest(r); c.SetResponse(w) }()
		return next(c)
	})
	if fault.Is(err, fault.Mismatch) {
		return fault.New(fault.Mismatch, "This form was taken once already, with other entries. Go back, look at the record, and fill in the form anew if it needs a change.")
	}
	return err
}

// readForm reads fields and files, and refuses what cannot be stored.
func readForm(r *http.Request) (*Form, []byte, error) {
	multi := strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data")
	limit := int64(textLimit)
	if multi {
		limit = uploadLimit
	}
	body, err := io.ReadAll(io.LimitReader(r.Body, limit+1))
	if err != nil {
		return nil, nil, fault.Wrap(err, fault.Invalid, "The form broke off on its way here. Send it again.")
	}
	if int64(len(body)) > limit {
		return nil, nil, fault.New(fault.TooLarge, "A form may hold at most %d MB. Go back and make it shorter, or choose a smaller photo.", limit>>20)
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	f := &Form{Sent: true, wrong: map[string]string{}}
	if multi {
		if err := r.ParseMultipartForm(uploadLimit); err != nil {
			return nil, nil, fault.Wrap(err, fault.Invalid, "The form cannot be read. Go back and send it again.")
		}
		f.values, f.files = r.MultipartForm.Value, r.MultipartForm.File
		if body, err = withoutBoundary(r.MultipartForm); err != nil {
			return nil, nil, err
		}
	} else {
		if err := r.ParseForm(); err != nil {
			return nil, nil, fault.Wrap(err, fault.Invalid, "The form cannot be read. Go back and send it again.")
		}
		f.values = r.PostForm
	}
	for name, values := range f.values {
		for _, v := range values {
			if !utf8.ValidString(v) || strings.ContainsRune(v, 0) || strings.ContainsRune(name, 0) {
				return nil, nil, fault.New(fault.Invalid, "The form holds characters that cannot be stored (such as NUL). Go back and remove them.")
			}
		}
	}
	f.Name, f.Key = f.values.Get(nameField), f.values.Get(keyField)
	f.Version, _ = strconv.Atoi(f.values.Get(versionField))
	return f, body, nil
}

// withoutBoundary writes a form with files so that it is the same when sent again: each
// sending has a boundary of its own.
func withoutBoundary(m *multipart.Form) ([]byte, error) {
	b := bytes.NewBufferString(url.Values(m.Value).Encode())
	for _, name := range slices.Sorted(maps.Keys(m.File)) {
		for _, h := range m.File[name] {
			b.WriteString("\n" + name + "\n" + h.Filename + "\n")
			file, err := h.Open()
			if err != nil {
				return nil, err
			}
			_, err = b.ReadFrom(file)
			if err = errors.Join(err, file.Close()); err != nil {
				return nil, err
			}
		}
	}
	return b.Bytes(), nil
}
