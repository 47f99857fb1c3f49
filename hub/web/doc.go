// Package web serves the hub's pages: the join page, the leader's row, the
// wall screen, the set-up and the printable summary.
//
// The pages are plain HTML, CSS and ES modules, embedded, with no build step;
// they render what the hub sends and do no arithmetic. Everything that is
// drawn to scale is placed here, in Go (Board).
//
// The one typographic idea is the common line: each chair's slide is drawn
// against one upright rule, standing as many millimetres short of it or past
// it as the slide has to move. A section that is set is a flush column.
package web
