package house

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // phones also send PNG

	"golang.org/x/image/draw"

	"kerfbook/internal/fault"
)

const (
	photoSide    = 1600     // longest side of a kept picture, pixels
	photoPixels  = 60 << 20 // largest picture that is opened at all, pixels
	photoQuality = 82
)

// Shrink decodes a JPEG or PNG, scales it to at most 1600 pixels a side and
// encodes it anew as JPEG, which leaves out where and with what it was taken.
// Errors: Invalid when it is not a picture or larger than 60 megapixels.
func Shrink(raw []byte) ([]byte, error) {
	cfg, _, err := image.DecodeConfig(bytes.NewReader(raw))
	if err != nil {
		return nil, fault.Bad("/photo", "This is not a JPEG or PNG picture.")
	}
	if cfg.Width*cfg.Height > photoPixels {
		return nil, fault.Bad("/photo", "This picture is too large to open. Take it with fewer pixels.")
	}
	src, _, err := image.Decode(bytes.NewReader(raw))
	if err != nil {
		return nil, fault.Bad("/photo", "This picture is damaged and cannot be opened.")
	}
	w, h := src.Bounds().Dx(), src.Bounds().Dy()
	if long := max(w, h); long > photoSide {
		w, h = max(1, w*photoSide/long), max(1, h*photoSide/long)
	}
	dst := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(dst, dst.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.ApproxBiLinear.Scale(dst, dst.Bounds(), src, src.Bounds(), draw.Over, nil)
	var out bytes.Buffer
	if err := jpeg.Encode(&out, dst, &jpeg.Options{Quality: photoQuality}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
