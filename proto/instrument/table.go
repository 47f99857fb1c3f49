package instrument

import "bellrow/proto/pitch"

// Fundamentals at A4 = 440 Hz, equal temperament.
const (
	hzBb3 = 233.0819
	hzA3  = 220.0
	hzEb3 = 155.5635
	hzD3  = 146.8324
	hzC3  = 130.8128
	hzBb2 = 116.5409
	hzF2  = 87.3071
	hzEb2 = 77.7817
	hzBb1 = 58.2705
	hzF1  = 43.6535
	hzEb1 = 38.8909
	hzC1  = 32.7032
	hzBb0 = 29.1352
	hzG0  = 24.4997
)

// Middles of the instruments that do not live around their third and fourth
// partials (common practice, no source).
var (
	hornMiddle = note("C4")
	tubaMiddle = note("Ab2")
)

func table() []Instrument {
	euphonium := Instrument{Family: "euphonium", Fundamental: hzBb1, Valves: 4, Compensating: true,
		Low: note("E2"), High: note("Bb4"), Slides: lowSlides(70, 15, 40, 4, false), TubeM: 2.74, Source: byFeet}
	plain := euphonium
	plain.Compensating = false
	three := euphonium
	three.Compensating, three.Valves, three.Slides = false, 3, lowSlides(70, 15, 40, 3, false)
	baritone := Instrument{Family: "euphonium", Fundamental: hzBb1, Valves: 3,
		Low: note("E2"), High: note("Bb4"), Slides: lowSlides(55, 12, 40, 3, false), TubeM: 2.74, Source: byFeet}
	tuba := func(hz, tube, travel, usual float64, compensating bool, low string) Instrument {
		return Instrument{Family: "tuba", Fundamental: pitch.Hertz(hz), Valves: 4, Compensating: compensating, TubeM: tube,
			Low: note(low), High: note("F4"), Middle: tubaMiddle, Slides: lowSlides(travel, usual, 60, 4, true), Source: byFeet}
	}
	horn := Instrument{Family: "horn", Valves: 3, Low: note("B1"), High: note("F5"), Middle: hornMiddle,
		Source: "tube: a maker's guide to the structure of the horn; usual pull: banddirectorstalkshop.com, horn sections"}
	single := func(hz, tube float64) Instrument {
		h := horn
		h.Fundamental, h.TubeM, h.Slides = pitch.Hertz(hz), tube, hornSlides(false)
		return h
	}
	double := single(hzF1, 3.70)
	double.Double, double.Slides = true, hornSlides(true)
	trombone := Instrument{Family: "trombone", Fundamental: hzBb1, HandSlide: true, TubeM: 2.70,
		Low: note("E2"), High: note("Bb4"), Slides: tromboneSlides(75, 15, false), Source: "tube: HyperPhysics, The Trombone; range: inmusica.fr"}
	attached := trombone
	attached.Attachment, attached.Low, attached.Slides = true, note("C2"), tromboneSlides(75, 15, true)
	bass := attached
	bass.Low, bass.Slides = note("B1"), tromboneSlides(80, 18, true)
	twoValves := bass
	twoValves.SecondValve, twoValves.Slides = true, append(tromboneSlides(80, 18, true), secondValveSlide())
	alto := Instrument{Family: "trombone", Fundamental: hzEb2, HandSlide: true, Low: note("A2"), High: note("F5"),
		Slides: tromboneSlides(50, 10, false), Source: bySecondHarmonic + "; range: englishpedia.net"}
	trumpet := func(hz, tube, travel, usual float64, low, high, source string) Instrument {
		return Instrument{Family: "trumpet", Fundamental: pitch.Hertz(hz), Valves: 3, TubeM: tube,
			Low: note(low), High: note(high), Slides: trumpetSlides(travel, usual), Source: source}
	}
	flugelhorn := trumpet(hzBb2, 0, 25, 10, "E3", "Bb5", bySecondHarmonic)
	flugelhorn.Slides[0] = shank(25, 10)
	piccolo := trumpet(hzBb3, 0, 10, 4, "E4", "G6", bySecondHarmonic+"; transposition: from memory")
	piccolo.Slides[0] = shank(10, 4)
	mellophone := trumpet(hzF2, 0, 40, 12, "B2", "F5", "pitch: from memory")
	mellophone.Family = "horn"
	tenorHorn := Instrument{Family: "horn", Fundamental: hzEb2, Valves: 3, Low: note("A2"), High: note("Eb5"),
		Slides: lowSlides(45, 12, 30, 3, false), Source: bySecondHarmonic}
	american := baritone // the same tube with a wider bore and bell
	american.Slides = lowSlides(70, 15, 40, 3, false)
	// with gives a tuba another set of valves.
	with := func(t Instrument, valves int, compensating bool, low string) Instrument {
		t.Valves, t.Compensating, t.Low = valves, compensating, note(low)
		t.Slides = lowSlides(t.Slides[0].TravelMM, t.Slides[0].UsualMM, 60, valves, true)
		return t
	}
	tubaF, tubaEb, tubaCC, tubaBBb := tuba(hzF1, 3.66, 80, 20, false, "E1"), tuba(hzEb1, 3.96, 80, 20, true, "E1"), tuba(hzC1, 4.88, 90, 25, false, "E1"), tuba(hzBb0, 5.49, 90, 25, false, "E1")
	alto4 := func(hz, tube float64, low, high string) Instrument { // Wagner tubas
		return Instrument{Family: "horn", Fundamental: pitch.Hertz(hz), Valves: 4, TubeM: tube, Low: note(low), High: note(high),
			Slides: lowSlides(45, 12, 30, 4, false), Source: "pitch and parts: common practice, no source"}
	}
	wagnerF := alto4(hzF1, 0, "Bb1", "Bb4")
	wagnerF.Middle = note("F3")
	cimbasso := with(tubaF, 5, false, "E1")
	cimbasso.Family, cimbasso.TubeM, cimbasso.Source = "trombone", 0, "pitch and valves: common practice, no source"
	valveTrombone := Instrument{Family: "trombone", Fundamental: hzBb1, Valves: 3, Low: note("E2"), High: note("Bb4"),
		Slides: lowSlides(75, 15, 40, 3, false), Source: "pitch: as a tenor trombone; valves: common practice, no source"}
	altoF := Instrument{Family: "horn", Fundamental: hzF2, Valves: 3, Low: note("B2"), High: note("F5"),
		Slides: lowSlides(40, 12, 30, 3, false), Source: "pitch: from memory"}
	piccoloA := trumpet(hzA3, 0, 10, 4, "Bb3", "F#6", "pitch, fourth valve and transposition: from memory")
	piccoloA.Valves, piccoloA.Slides = 4, append([]Slide{shank(10, 4)}, append(trumpetSlides(10, 4)[1:], valveSlide(Fourth, "fourth valve slide", 10, 2, false))...)
	flugelhorn4 := trumpet(hzBb2, 0, 25, 10, "C3", "Bb5", bySecondHarmonic+"; fourth valve: common practice, no source")
	flugelhorn4.Valves, flugelhorn4.Slides = 4, append([]Slide{shank(25, 10)}, append(trumpetSlides(25, 10)[1:], valveSlide(Fourth, "fourth valve slide", 25, 3, false))...)
	contrabassG := with(tuba(hzG0, 0, 60, 15, false, "C#1"), 3, false, "C#1")
	contrabassG.Source, contrabassG.High = "pitch: from memory; part: its open tube is written C", note("D4")
	sousaphone := tuba(hzBb0, 0, 60, 15, false, "E1")
	sousaphone.Valves, sousaphone.Slides = 3, lowSlides(60, 15, 60, 3, true)
	sousaphone.Source = "pitch: by analogy with the tuba in B flat"

	tenor := trombone.as("tenor_trombone_bb", "Tenor trombone in B flat", "bass", 0)
	tenorF := attached.as("tenor_trombone_bbf", "Tenor trombone with F attachment", "bass", 0)
	bass1 := bass.as("bass_trombone_bb", "Bass trombone in B flat", "bass", 0)
	bass2 := twoValves.as("bass_trombone_bb_2v", "Bass trombone with a second valve (B flat, F, G flat, D)", "bass", 0)
	eFlatTuba := tubaEb.as("tuba_eb", "Tuba in E flat, concert part", "bass", 0)
	euphoniumTC := euphonium.as("euphonium_bb_tc", "Euphonium in B flat, treble clef part", "treble", -14)
	list := []Instrument{
		piccolo.as("piccolo_trumpet_bb", "Piccolo trumpet in B flat", "treble", 10),
		piccoloA.as("piccolo_trumpet_a", "Piccolo trumpet in A, four valves", "treble", 9),
		trumpet(hzEb3, 0, 30, 8, "A3", "C6", bySecondHarmonic+" (the soprano cornet's); transposition: from memory").as("trumpet_eb", "Trumpet in E flat", "treble", 3),
		trumpet(hzD3, 0, 35, 9, "G#3", "C6", "pitch and transposition: from memory").as("trumpet_d", "Trumpet in D", "treble", 2),
		trumpet(hzEb3, 0, 30, 8, "A3", "C6", bySecondHarmonic+"; transposition: from memory").as("soprano_cornet_eb", "Soprano cornet in E flat", "treble", 3),
		trumpet(hzC3, 0, 40, 10, "F#3", "C6", "pitch: from memory").as("trumpet_c", "Trumpet in C", "treble", 0),
		trumpet(hzBb2, 1.40, 45, 12.7, "E3", "Bb5", "tube: T. R. Moore, Acoustics Today, Winter 2016, p. 38; usual pull: J. Buckner, Tuning and Valve Slides; D. Newell, Bandworld vol. 10 no. 4, 1995").as("trumpet_bb", "Trumpet in B flat", "treble", -2),
		trumpet(hzBb2, 0, 35, 12, "E3", "Bb5", bySecondHarmonic).as("cornet_bb", "Cornet in B flat", "treble", -2),
		flugelhorn.as("flugelhorn_bb", "Flugelhorn in B flat", "treble", -2),
		flugelhorn4.as("flugelhorn_bb_4v", "Flugelhorn in B flat, four valves", "treble", -2),
		mellophone.as("mellophone_f", "Marching mellophone in F", "treble", -7),
		double.as("horn_double", "Double horn in F and B flat", "treble", -7),
		single(hzF1, 3.70).as("horn_f", "Horn in F", "treble", -7),
		single(hzBb1, 2.75).as("horn_bb", "Horn in B flat, part in F", "treble", -7),
		alto4(hzBb1, 0, "E2", "F5").as("wagner_tuba_bb", "Wagner tuba in B flat", "treble", -2),
		wagnerF.as("wagner_tuba_f", "Wagner tuba in F", "treble", -7),
		altoF.as("alto_horn_f", "Alto horn in F", "treble", -7),
		tenorHorn.as("tenor_horn_eb", "Alto (tenor) horn in E flat", "treble", -9),
		tenorHorn.as("tenor_horn_eb", "Alto (tenor) horn in E flat", "treble", -9).reading("f", "part in F", "treble", -7),
		alto.as("alto_trombone_eb", "Alto trombone in E flat", "alto", 0),
		tenor, tenor.reading("tc", "treble clef part in B flat", "treble", -14), tenor.reading("tenor", "tenor clef part", "tenor", 0), tenor.reading("alto", "alto clef part", "alto", 0),
		tenorF, tenorF.reading("tc", "treble clef part in B flat", "treble", -14), tenorF.reading("tenor", "tenor clef part", "tenor", 0), tenorF.reading("alto", "alto clef part", "alto", 0),
		bass1, bass1.reading("tc", "treble clef part in B flat", "treble", -14),
		bass2, bass2.reading("tc", "treble clef part in B flat", "treble", -14),
		valveTrombone.as("valve_trombone_bb", "Valve trombone in B flat, bass clef part", "bass", 0),
		valveTrombone.as("valve_trombone_bb", "Valve trombone in B flat, bass clef part", "bass", 0).reading("tc", "treble clef part", "treble", -14),
		cimbasso.as("cimbasso_f", "Cimbasso in F, five valves", "bass", 0),
		baritone.as("baritone_bb_tc", "Baritone in B flat, treble clef part", "treble", -14),
		baritone.as("baritone_bb_bc", "Baritone in B flat, bass clef part", "bass", 0),
		american.as("baritone_us", "Baritone horn (American), bass clef part", "bass", 0).reading("tc", "treble clef part", "treble", -14),
		american.as("baritone_us", "Baritone horn (American), bass clef part", "bass", 0),
		euphonium.as("euphonium_bb_bc", "Euphonium in B flat, bass clef part", "bass", 0),
		euphoniumTC,
		three.as("euphonium_bb_3v", "Euphonium in B flat, three valves, bass clef part", "bass", 0),
		three.as("euphonium_bb_3v", "Euphonium in B flat, three valves, bass clef part", "bass", 0).reading("tc", "treble clef part", "treble", -14),
		plain.as("euphonium_bb_4v", "Euphonium in B flat, four valves without compensation, bass clef part", "bass", 0).reading("tc", "treble clef part", "treble", -14),
		plain.as("euphonium_bb_4v", "Euphonium in B flat, four valves without compensation, bass clef part", "bass", 0),
		tubaF.as("tuba_f", "Tuba in F", "bass", 0),
		with(tubaF, 5, false, "C1").as("tuba_f_5v", "Tuba in F, five valves", "bass", 0),
		with(tubaF, 6, false, "C1").as("tuba_f_6v", "Tuba in F, six valves", "bass", 0),
		eFlatTuba,
		with(tubaEb, 3, false, "A1").as("tuba_eb_3v", "Tuba in E flat, three valves, concert part", "bass", 0),
		with(tubaEb, 4, false, "E1").as("tuba_eb_4v", "Tuba in E flat, four valves without compensation, concert part", "bass", 0),
		tubaEb.as("bass_eb_tc", "E flat bass, treble clef brass-band part", "treble", -21),
		with(tubaEb, 3, true, "A1").as("bass_eb_3v_tc", "E flat bass, three valves with compensation, treble clef brass-band part", "treble", -21),
		tubaCC.as("tuba_cc", "Tuba in C (CC)", "bass", 0),
		with(tubaCC, 5, false, "C1").as("tuba_cc_5v", "Tuba in C (CC), five valves", "bass", 0),
		tubaBBb.as("tuba_bbb", "Tuba in B flat (BBb), concert part", "bass", 0),
		with(tubaBBb, 3, false, "E1").as("tuba_bbb_3v", "Tuba in B flat (BBb), three valves, concert part", "bass", 0),
		with(tubaBBb, 3, true, "E1").as("bass_bb_3v_tc", "B flat bass, three valves with compensation, treble clef brass-band part", "treble", -26),
		with(tubaBBb, 4, true, "E1").as("bass_bb_tc", "B flat bass, treble clef brass-band part", "treble", -26),
		sousaphone.as("sousaphone_bb", "Sousaphone in B flat", "bass", 0),
		sousaphone.as("contrabass_bb", "Marching contrabass in B flat (BBb)", "bass", 0),
		contrabassG.as("contrabass_g", "Contrabass bugle in G, three valves", "treble", -29),
	}
	return withHornParts(list)
}

// hornParts are what horn players read beside parts in F: the crooks of older
// music, and the bass clef in its two notations, the newer a fifth above what
// sounds like the treble clef, the older a fourth below it (common practice, no
// source).
var hornParts = []struct {
	suffix        ID
	name, clef    string
	transposition int
}{
	{"eb", "part in E flat", "treble", -9}, {"d", "part in D", "treble", -10},
	{"bc", "bass clef part in F", "bass", -7}, {"bc_old", "bass clef part in F, old notation", "bass", 5},
}

// withHornParts puts the other parts after each horn that reads in F.
func withHornParts(list []Instrument) []Instrument {
	var out []Instrument
	for _, in := range list {
		out = append(out, in)
		if in.ID != "horn_double" && in.ID != "horn_f" && in.ID != "horn_bb" {
			continue
		}
		for _, p := range hornParts {
			out = append(out, in.reading(p.suffix, p.name, p.clef, p.transposition))
		}
	}
	return out
}
