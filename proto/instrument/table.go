package instrument

import "bellrow/proto/pitch"

// Fundamentals at A4 = 440 Hz, equal temperament.
const (
	hzBb3 = 233.0819
	hzEb3 = 155.5635
	hzC3  = 130.8128
	hzBb2 = 116.5409
	hzF2  = 87.3071
	hzEb2 = 77.7817
	hzBb1 = 58.2705
	hzF1  = 43.6535
	hzEb1 = 38.8909
	hzC1  = 32.7032
	hzBb0 = 29.1352
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
	sousaphone := tuba(hzBb0, 0, 60, 15, false, "E1")
	sousaphone.Valves, sousaphone.Slides = 3, lowSlides(60, 15, 60, 3, true)
	sousaphone.Source = "pitch: by analogy with the tuba in B flat"

	return []Instrument{
		piccolo.as("piccolo_trumpet_bb", "Piccolo trumpet in B flat", "treble", 10),
		trumpet(hzEb3, 0, 30, 8, "A3", "C6", bySecondHarmonic+"; transposition: from memory").as("soprano_cornet_eb", "Soprano cornet in E flat", "treble", 3),
		trumpet(hzC3, 0, 40, 10, "F#3", "C6", "pitch: from memory").as("trumpet_c", "Trumpet in C", "treble", 0),
		trumpet(hzBb2, 1.40, 45, 12.7, "E3", "Bb5", "tube: T. R. Moore, Acoustics Today, Winter 2016, p. 38; usual pull: J. Buckner, Tuning and Valve Slides; D. Newell, Bandworld vol. 10 no. 4, 1995").as("trumpet_bb", "Trumpet in B flat", "treble", -2),
		trumpet(hzBb2, 0, 35, 12, "E3", "Bb5", bySecondHarmonic).as("cornet_bb", "Cornet in B flat", "treble", -2),
		flugelhorn.as("flugelhorn_bb", "Flugelhorn in B flat", "treble", -2),
		mellophone.as("mellophone_f", "Marching mellophone in F", "treble", -7),
		double.as("horn_double", "Double horn in F and B flat", "treble", -7),
		single(hzF1, 3.70).as("horn_f", "Horn in F", "treble", -7),
		single(hzBb1, 2.75).as("horn_bb", "Horn in B flat, part in F", "treble", -7),
		tenorHorn.as("tenor_horn_eb", "Alto (tenor) horn in E flat", "treble", -9),
		alto.as("alto_trombone_eb", "Alto trombone in E flat", "alto", 0),
		trombone.as("tenor_trombone_bb", "Tenor trombone in B flat", "bass", 0),
		attached.as("tenor_trombone_bbf", "Tenor trombone with F attachment", "bass", 0),
		bass.as("bass_trombone_bb", "Bass trombone in B flat", "bass", 0),
		twoValves.as("bass_trombone_bb_2v", "Bass trombone with a second valve (B flat, F, G flat, D)", "bass", 0),
		baritone.as("baritone_bb_tc", "Baritone in B flat, treble clef part", "treble", -14),
		baritone.as("baritone_bb_bc", "Baritone in B flat, bass clef part", "bass", 0),
		euphonium.as("euphonium_bb_bc", "Euphonium in B flat, bass clef part", "bass", 0),
		euphonium.as("euphonium_bb_tc", "Euphonium in B flat, treble clef part", "treble", -14),
		plain.as("euphonium_bb_4v", "Euphonium in B flat, four valves without compensation, bass clef part", "bass", 0),
		tuba(hzF1, 3.66, 80, 20, false, "E1").as("tuba_f", "Tuba in F", "bass", 0),
		tuba(hzEb1, 3.96, 80, 20, true, "E1").as("tuba_eb", "Tuba in E flat, concert part", "bass", 0),
		tuba(hzEb1, 3.96, 80, 20, true, "E1").as("bass_eb_tc", "E flat bass, treble clef brass-band part", "treble", -21),
		tuba(hzC1, 4.88, 90, 25, false, "E1").as("tuba_cc", "Tuba in C (CC)", "bass", 0),
		tuba(hzBb0, 5.49, 90, 25, false, "E1").as("tuba_bbb", "Tuba in B flat (BBb), concert part", "bass", 0),
		tuba(hzBb0, 5.49, 90, 25, true, "E1").as("bass_bb_tc", "B flat bass, treble clef brass-band part", "treble", -26),
		sousaphone.as("sousaphone_bb", "Sousaphone in B flat", "bass", 0),
	}
}
