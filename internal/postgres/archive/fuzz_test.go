package archive

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"fmt"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
)

// Whatever the bytes, reading ends in an archive or in an Invalid error.
func FuzzCheck(f *testing.F) {
	f.Add([]byte{})
	f.Add([]byte(magic))
	f.Add([]byte(magic + sumPrefix))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, file []byte) {
		if _, err := Check(bytes.NewReader(file)); err != nil {
			require.Equal(t, fault.Invalid, fault.KindOf(err), "%v", err)
		}
	})
}

// The same behind a true checksum and compression: the frames themselves.
func FuzzFrames(f *testing.F) {
	f.Add([]byte("J\x00\x00\x00\x02{}D\x00\x00\x00\x01xJ\x00\x00\x00\x02{}"))
	f.Add([]byte("J\xff\xff\xff\xff"))
	f.Add([]byte("J\x00\x00\x00\x14{\"schema_version\":1}D"))
	f.Fuzz(func(t *testing.T, frames []byte) {
		in, _, err := open(bytes.NewReader(seal(t, frames)))
		for err == nil {
			data := &dataReader{r: in, sum: sha256.New()}
			if _, err = io.Copy(io.Discard, data); err == nil {
				err = in.decode(&tableEnd{})
			}
		}
		require.Equal(t, fault.Invalid, fault.KindOf(err), "%v", err) // it has to end somewhere
	})
}

// seal compresses frames and gives them a true checksum line.
func seal(t *testing.T, frames []byte) []byte {
	t.Helper()
	var file bytes.Buffer
	file.WriteString(magic)
	zip := gzip.NewWriter(&file)
	_, err := zip.Write(frames)
	require.NoError(t, err)
	require.NoError(t, zip.Close())
	fmt.Fprintf(&file, "%s%x\n", sumPrefix, sha256.Sum256(file.Bytes()))
	return file.Bytes()
}
