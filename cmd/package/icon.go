package main

import (
	"bytes"
	"image"
	"os"
	"path/filepath"

	"github.com/srwiley/oksvg"
	"github.com/srwiley/rasterx"
)

// icon draws the project's mark in a square of so many pixels.
func (b *builder) icon(pixels int) (image.Image, error) {
	data, err := os.ReadFile(filepath.Join(b.root, "proto/page/files/mark.svg"))
	if err != nil {
		return nil, err
	}
	svg, err := oksvg.ReadIconStream(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	svg.SetTarget(0, 0, float64(pixels), float64(pixels))
	img := image.NewRGBA(image.Rect(0, 0, pixels, pixels))
	svg.Draw(rasterx.NewDasher(pixels, pixels, rasterx.NewScannerGV(pixels, pixels, img, img.Bounds())), 1)
	return img, nil
}
