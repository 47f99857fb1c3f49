package mic

import (
	"errors"
	"strings"
	"testing"
)

var some = []Device{
	{API: "ALSA", Name: "default", Default: true},
	{API: "ALSA", Name: "USB microphone: Audio (hw:1,0)"},
	{API: "ALSA", Name: "Built-in: Analog (hw:0,0)"},
	{API: "JACK", Name: "default"},
}

func TestChoose(t *testing.T) {
	for _, tt := range []struct {
		name, want string
		devices    []Device
		got        string // full name, or empty
		says       string // part of the error
	}{
		{"the default", "", some, "ALSA: default", ""},
		{"full name", "JACK: default", some, "JACK: default", ""},
		{"name", "Built-in: Analog (hw:0,0)", some, "ALSA: Built-in: Analog (hw:0,0)", ""},
		{"part, any case", "usb", some, "ALSA: USB microphone: Audio (hw:1,0)", ""},
		{"name in two host APIs", "default", some, "", "fits several"},
		{"part of two", "hw:", some, "", "fits several"},
		{"unplugged", "desk microphone", some, "", "there are: ALSA: default; "},
		{"no default", "", some[1:], "", "choose one of"},
		{"none at all", "", nil, "", "plug one in"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			d, err := choose(tt.devices, tt.want)
			if tt.says == "" {
				if err != nil || d.String() != tt.got {
					t.Errorf("choose %q: %q, error %v, want %q", tt.want, d, err, tt.got)
				}
				return
			}
			if err == nil || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("choose %q: error %v, want one saying %q", tt.want, err, tt.says)
			}
		})
	}
	if _, err := choose(nil, ""); !errors.Is(err, ErrNoDevice) {
		t.Errorf("no devices: error %v, want ErrNoDevice", err)
	}
}
