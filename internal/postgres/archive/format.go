package archive

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"

	"kerfbook/internal/fault"
)

const (
	magic       = "kerfbook archive 1\n"
	sumPrefix   = "sha256 "
	trailerSize = int64(len(sumPrefix) + 2*sha256.Size + 1)
	maxFrame    = 1 << 20
)

// The kinds of frame: one byte, then the length in four (big-endian), then the content.
const (
	frameJSON = 'J'
	frameData = 'D'
)

// writer writes frames into a compressed stream and knows the checksum of the whole.
type writer struct {
	out io.Writer // the file and the sum
	raw io.Writer // the file alone
	sum hash.Hash
	zip *gzip.Writer
}

func newWriter(w io.Writer) (*writer, error) {
	sum := sha256.New()
	out := io.MultiWriter(w, sum)
	if _, err := io.WriteString(out, magic); err != nil {
		return nil, err
	}
	zip, err := gzip.NewWriterLevel(out, gzip.BestSpeed)
	if err != nil {
		return nil, err
	}
	return &writer{out: out, raw: w, sum: sum, zip: zip}, nil
}

func (w *writer) frame(kind byte, content []byte) error {
	head := make([]byte, 5)
	head[0] = kind
	binary.BigEndian.PutUint32(head[1:], uint32(len(content)))
	if _, err := w.zip.Write(head); err != nil {
		return err
	}
	_, err := w.zip.Write(content)
	return err
}

func (w *writer) json(v any) error {
	text, err := json.Marshal(v)
	if err != nil {
		return err
	}
	if len(text) > maxFrame {
		return fmt.Errorf("archive: a description of %d bytes does not fit a frame", len(text))
	}
	return w.frame(frameJSON, text)
}

// close ends the stream and writes the checksum line.
func (w *writer) close() error {
	if err := w.zip.Close(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w.raw, "%s%x\n", sumPrefix, w.sum.Sum(nil))
	return err
}

// dataWriter cuts what COPY sends into data frames and sums it up.
type dataWriter struct {
	w     *writer
	sum   hash.Hash
	bytes int64
}

func (d *dataWriter) Write(p []byte) (int, error) {
	for rest := p; len(rest) > 0; {
		n := min(len(rest), maxFrame)
		if err := d.w.frame(frameData, rest[:n]); err != nil {
			return 0, err
		}
		rest = rest[n:]
	}
	d.sum.Write(p)
	d.bytes += int64(len(p))
	return len(p), nil
}

// verify reads the whole file and compares its checksum. It leaves r at the start.
// Invalid: it is no archive, or it is cut short or altered.
func verify(r io.ReadSeeker) error {
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return err
	}
	head := make([]byte, min(size, int64(len(magic))))
	if _, err := io.ReadFull(r, head); err != nil {
		return err
	}
	if string(head) != magic {
		return fault.New(fault.Invalid, "This is not a kerfbook archive of a kind this program reads. Choose a file that kerfbook backup has written.")
	}
	if size < int64(len(magic))+trailerSize {
		return errDamaged(nil)
	}
	sum := sha256.New()
	sum.Write(head)
	if _, err := io.CopyN(sum, r, size-int64(len(magic))-trailerSize); err != nil {
		return err
	}
	trailer, err := io.ReadAll(io.LimitReader(r, trailerSize))
	if err != nil {
		return err
	}
	if string(trailer) != fmt.Sprintf("%s%x\n", sumPrefix, sum.Sum(nil)) {
		return errDamaged(nil)
	}
	_, err = r.Seek(0, io.SeekStart)
	return err
}

func errDamaged(cause error) error {
	return fault.Wrap(cause, fault.Invalid, "The archive is cut short or was altered: its checksum does not fit. Nothing was changed. Use another copy.")
}

// reader reads frames; it has one frame of foresight.
type reader struct {
	zip  *gzip.Reader
	kind byte
	left []byte
}

// newReader starts behind verify; size is that of the whole file.
func newReader(r io.ReadSeeker) (*reader, error) {
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, err
	}
	if _, err := r.Seek(int64(len(magic)), io.SeekStart); err != nil {
		return nil, err
	}
	zip, err := gzip.NewReader(io.LimitReader(r, size-int64(len(magic))-trailerSize))
	if err != nil {
		return nil, errDamaged(err)
	}
	return &reader{zip: zip}, nil
}

// next reads a frame into kind and left.
func (r *reader) next() error {
	head := make([]byte, 5)
	if _, err := io.ReadFull(r.zip, head); err != nil {
		return errDamaged(err)
	}
	size := binary.BigEndian.Uint32(head[1:])
	if size > maxFrame || head[0] != frameJSON && head[0] != frameData {
		return errDamaged(fmt.Errorf("frame %q of %d bytes", head[0], size))
	}
	content := make([]byte, size)
	if _, err := io.ReadFull(r.zip, content); err != nil {
		return errDamaged(err)
	}
	r.kind, r.left = head[0], content
	return nil
}

// json reads the next frame into v.
func (r *reader) json(v any) error {
	if err := r.next(); err != nil {
		return err
	}
	return r.decode(v)
}

// decode takes the frame at hand.
func (r *reader) decode(v any) error {
	if r.kind != frameJSON {
		return errDamaged(errors.New("rows where a description belongs"))
	}
	d := json.NewDecoder(bytes.NewReader(r.left))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return errDamaged(err)
	}
	return nil
}

// end looks that nothing follows.
func (r *reader) end() error {
	if n, err := r.zip.Read(make([]byte, 1)); n != 0 || err != io.EOF {
		return errDamaged(errors.Join(errors.New("more than there should be"), err))
	}
	return nil
}

// dataReader gives the data frames up to the next description, which then is at hand.
type dataReader struct {
	r     *reader
	sum   hash.Hash
	bytes int64
	at    []byte
	err   error
}

func (d *dataReader) Read(p []byte) (int, error) {
	for len(d.at) == 0 && d.err == nil {
		if d.err = d.r.next(); d.err == nil && d.r.kind != frameData {
			d.err = io.EOF
		}
		if d.err == nil {
			d.at = d.r.left
		}
	}
	if len(d.at) == 0 {
		return 0, d.err
	}
	n := copy(p, d.at)
	d.at = d.at[n:]
	d.sum.Write(p[:n])
	d.bytes += int64(n)
	return n, nil
}

func hexSum(h hash.Hash) string { return hex.EncodeToString(h.Sum(nil)) }
