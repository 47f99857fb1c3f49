package browser

import (
	"context"
	"encoding/json"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/tracing"
	"github.com/chromedp/chromedp"
)

// Span is one stretch of the page's work in the browser's trace.
type Span struct {
	// Name is the kind of work ("FunctionCall", "Layout"), Function the
	// script's own name where there is one.
	Name, Function string
	// Wall is how long it lasted, CPU how long its thread was running: less
	// when other programs had the processor meanwhile.
	Wall, CPU time.Duration
}

// Trace returns what the browser did while do ran, by its own tracing
// (category devtools.timeline).
func (b *Browser) Trace(do func()) []Span {
	b.t.Helper()
	ctx, cancel := context.WithCancel(b.ctx)
	defer cancel()
	var spans []Span
	done := make(chan struct{})
	err := chromedp.Listen(ctx, func(ev any) {
		switch e := ev.(type) {
		case *tracing.EventDataCollected:
			for _, v := range e.Value {
				spans = append(spans, spanOf(v)...)
			}
		case *tracing.EventTracingComplete:
			close(done)
		}
	})
	if err != nil {
		b.t.Fatalf("browser: trace: %v", err)
	}
	config := tracing.StartParams{TraceConfig: &tracing.TraceConfig{IncludedCategories: []string{"devtools.timeline"}}}
	if _, err := chromedp.Call(ctx, tracing.Start, config); err != nil {
		b.t.Fatalf("browser: trace: %v", err)
	}
	do()
	if _, err := chromedp.Call(ctx, tracing.End, cdp.Empty{}); err != nil {
		b.t.Fatalf("browser: trace: %v", err)
	}
	select {
	case <-done:
	case <-time.After(waitFor):
		b.t.Fatal("browser: the trace never ended")
	}
	return spans
}

// spanOf reads a complete event of the trace; others are left out.
func spanOf(raw []byte) []Span {
	var e struct {
		Name  string  `json:"name"`
		Phase string  `json:"ph"`
		Dur   float64 `json:"dur"`  // µs
		TDur  float64 `json:"tdur"` // µs
		Args  struct {
			Data struct {
				FunctionName string `json:"functionName"`
			} `json:"data"`
		} `json:"args"`
	}
	if json.Unmarshal(raw, &e) != nil || e.Phase != "X" {
		return nil
	}
	us := func(x float64) time.Duration { return time.Duration(x * float64(time.Microsecond)) }
	return []Span{{e.Name, e.Args.Data.FunctionName, us(e.Dur), us(e.TDur)}}
}
