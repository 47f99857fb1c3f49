package player

import (
	"testing"

	"bellrow/proto/instrument"
)

func TestParse(t *testing.T) {
	in, err := instrument.Find("trumpet_bb")
	if err != nil {
		t.Fatal(err)
	}
	c, err := Parse(in, "build=+12, habit=holder,seed=3,level=-30,main=14,wrong=next-partial")
	if err != nil || c.Build != 12 || c.Habit != Holder || c.Seed != 3 || c.Level != -30 || c.Settings[instrument.Main] != 14 || c.Wrong != NextPartial {
		t.Errorf("%+v, %v", c, err)
	}
	for _, spec := range []string{
		"", "build", "build=", "build=NaN", "build=Inf", "build=-Inf", "build=99999", "seed=-1", "seed=1.5", "level=3", "main=-1", "main=900",
		"fifth=3", "habit=loud", "wrong=all", "build=1,,seed=2", "brightness=3",
	} {
		if _, err := Parse(in, spec); err == nil {
			t.Errorf("%q is taken", spec)
		}
	}
}
