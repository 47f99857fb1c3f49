package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellrow/hub"
	sheets "bellrow/hub/report"
	"bellrow/hub/retention"
)

// reporter is the report command.
type reporter struct {
	store   hub.Store
	data    string
	section string
	player  string
	since   time.Time
	noNames bool
}

func reportCommand(e env) *cobra.Command {
	var r reporter
	var asJSON, asCSV, yes bool
	var toHTML, export, erase string
	var before time.Time
	var days float64
	c := &cobra.Command{
		Use: "report", Short: "what the records show of a section and its players, and erasing them",
		Long: `What the hub's records show of a section and its players. The records belong to
the people in them: export everything, or erase it. Stop the hub before you erase.`,
		Example: `bellrow report --html report.html
bellrow report --player "Horn 2" --since 2030-01-31
bellrow report --keep-days 400`,
		Args: noWords("a section is given with --section, a player with --player"),
	}
	dataFlag(c, &r.data)
	text(c, &r.section, "section", "", "`NAME` of the section; without it, the one used last")
	text(c, &r.player, "player", "", "only the sheet of this `CHAIR`, by label or name")
	dateFlag(c, &r.since, "since", "first `DATE`, 2006-01-02; without it, the last 90 days")
	jsonFlag(c, &asJSON)
	flag(c, &asCSV, "csv", "print a table: a line for each player and rehearsal")
	text(c, &toHTML, "html", "", "write a page with drawings to this `FILE`: the section first, then a sheet for each player")
	flag(c, &r.noNames, "no-names", "leave out players' names; chairs keep their labels")
	text(c, &export, "export", "", "write every record of the section to this `FILE`, as JSON")
	text(c, &erase, "delete-player", "", "erase a `CHAIR` with everything it ever stored")
	dateFlag(c, &before, "forget-before", "erase readings, moves, rounds and settings before this `DATE`, of all sections")
	within(c, &days, "keep-days", 0, 0, retention.MaxDays, "from now on, keep records for so many `DAYS`; 0 keeps them for ever", "0 keeps records for ever")
	flag(c, &yes, "yes", "erase; without it, say only what would be erased")
	c.RunE = func(c *cobra.Command, _ []string) error {
		given := c.Flags().Changed
		acts := []string{"export", "delete-player", "forget-before", "keep-days"}
		if err := first(oneOf(c, append([]string{"json", "csv", "html"}, acts...)...), needs(c, "yes", "delete-player", "forget-before"),
			without(c, "player", "delete-player", "forget-before", "keep-days"), without(c, "no-names", "delete-player", "forget-before", "keep-days"),
			without(c, "since", "delete-player", "forget-before", "keep-days"), without(c, "section", "forget-before", "keep-days")); err != nil {
			return err
		}
		if !given("since") && !given("export") {
			r.since = time.Now().Add(-sheets.Season)
		}
		if days != float64(int(days)) {
			return misused("give whole days", "--keep-days cannot be %g", days)
		}
		store, err := openRecords(c, &r.data)
		if err != nil {
			return err
		}
		defer store.Close()
		r.store = store
		ctx := c.Context()
		switch {
		case given("delete-player"):
			return r.erase(ctx, e.stdout, erase, yes)
		case given("forget-before"):
			return r.forget(ctx, e.stdout, before, yes)
		case given("keep-days"):
			return r.keep(ctx, e.stdout, int(days))
		case given("export"):
			return r.export(ctx, e.stdout, export)
		}
		rep, err := r.make(ctx)
		switch {
		case err != nil:
			return err
		case asJSON:
			return sheets.WriteJSON(e.stdout, rep)
		case asCSV:
			return sheets.WriteCSV(e.stdout, rep)
		case given("html"):
			if err := writeFile(toHTML, func(w io.Writer) error { return sheets.WriteHTML(w, rep) }); err != nil {
				return err
			}
			_, err = fmt.Fprintf(e.stdout, "The report is in %s. A player's sheet is the player's to read first.\n", toHTML)
			return err
		}
		return sheets.WriteText(e.stdout, rep)
	}
	return c
}

// writeFile writes a new file, private to this user, whole or not at all.
func writeFile(path string, write func(io.Writer) error) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".report-*")
	if err == nil {
		defer os.Remove(f.Name())
		err = errors.Join(write(f), f.Close())
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return say("choose a folder with space that you may write to", "%s could not be written: %v", path, err)
	}
	return nil
}

// open finds the section.
func (r *reporter) open(ctx context.Context) (hub.Section, error) {
	sections, err := r.store.Sections(ctx)
	if err != nil {
		return hub.Section{}, err
	}
	if len(sections) == 0 {
		return hub.Section{}, say("start bellrow hub and tune once", "there is no section in %s yet", r.data)
	}
	if r.section == "" {
		return sections[0], nil
	}
	var names []string
	for _, s := range sections {
		if strings.EqualFold(s.Name, r.section) {
			return s, nil
		}
		names = append(names, s.Name)
	}
	return hub.Section{}, misused("the sections are "+strings.Join(names, ", "), "there is no section %q", r.section)
}

// chair finds a player by label or name.
func chairNamed(s hub.Section, name string) (hub.Chair, error) {
	var found []hub.Chair
	var all []string
	for _, c := range s.Chairs {
		if strings.EqualFold(c.Label, name) || c.Name != "" && strings.EqualFold(c.Name, name) {
			found = append(found, c)
		}
		all = append(all, c.Label)
	}
	if len(found) != 1 {
		return hub.Chair{}, misused("the chairs are "+strings.Join(all, ", "), "%d chairs are called %q, need one", len(found), name)
	}
	return found[0], nil
}

// make draws up the report.
func (r *reporter) make(ctx context.Context) (sheets.Report, error) {
	s, err := r.open(ctx)
	if err != nil {
		return sheets.Report{}, err
	}
	records, err := sheets.Load(ctx, r.store, s, r.since)
	if err != nil {
		return sheets.Report{}, err
	}
	if r.noNames {
		records.HideNames()
	}
	rep := sheets.Make(records)
	if r.player != "" {
		c, err := chairNamed(s, r.player)
		if err != nil {
			return rep, err
		}
		rep, _ = rep.Of(c.ID) // it is one of them
	}
	return rep, nil
}

// export writes everything that is stored of a section, or of one player.
func (r *reporter) export(ctx context.Context, out io.Writer, path string) error {
	s, err := r.open(ctx)
	if err != nil {
		return err
	}
	records, err := sheets.LoadExport(ctx, r.store, s, r.since)
	if err != nil {
		return err
	}
	if r.player != "" {
		c, err := chairNamed(s, r.player)
		if err != nil {
			return err
		}
		records.Only(c.ID)
	}
	if r.noNames {
		records.HideNames()
	}
	err = writeFile(path, func(w io.Writer) error { return json.NewEncoder(w).Encode(records) })
	if err == nil {
		_, err = fmt.Fprintf(out, "%d readings, %d moves, %d settings and %d rounds are in %s.\n",
			len(records.Readings), len(records.Moves), len(records.Settings), len(records.Rounds), path)
	}
	return err
}

// erase deletes a player entirely.
func (r *reporter) erase(ctx context.Context, out io.Writer, name string, yes bool) error {
	s, err := r.open(ctx)
	if err != nil {
		return err
	}
	c, err := chairNamed(s, name)
	if err != nil {
		return err
	}
	own, err := sheets.LoadExport(ctx, r.store, s, time.Time{})
	if err != nil {
		return err
	}
	own.Only(c.ID)
	what := fmt.Sprintf("%s of %s with %d readings, %d moves and %d settings", c.Label, s.Name, len(own.Readings), len(own.Moves), len(own.Settings))
	if !yes {
		_, err := fmt.Fprintf(out, "This would erase %s. Stop the hub, then add --yes. %s\n", what, r.copies())
		return err
	}
	if err := r.store.DeletePlayer(ctx, c.ID); err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "Erased %s. %s\n", what, r.copies())
	return err
}

// copies says what erasing leaves alone: copies that people made, and those
// that a newer program left beside the data.
func (r *reporter) copies() string {
	left, _ := filepath.Glob(filepath.Join(r.data, strings.TrimSuffix(databaseFile, ".db")+"-v*.db")) // the pattern is a good one
	if len(left) == 0 {
		return "Copies made with backup stay as they are."
	}
	return fmt.Sprintf("Copies stay as they are: those made with backup, and %s, from before this program was newer; delete them when you need them no more.", strings.Join(left, ", "))
}

// forget erases what is old.
func (r *reporter) forget(ctx context.Context, out io.Writer, before time.Time, yes bool) error {
	if !yes {
		_, err := fmt.Fprintf(out, "This would erase readings, moves, rounds and settings before %s, of all sections. Stop the hub, then add --yes.\n", before.Format(time.DateOnly))
		return err
	}
	if err := r.store.Forget(ctx, before); err != nil {
		return err
	}
	_, err := fmt.Fprintf(out, "Erased what was older than %s.\n", before.Format(time.DateOnly))
	return err
}

// keep notes how long records are kept.
func (r *reporter) keep(ctx context.Context, out io.Writer, days int) error {
	if err := retention.Set(ctx, r.store, days); err != nil {
		return err
	}
	if days == 0 {
		_, err := fmt.Fprintln(out, "Records are kept until you erase them.")
		return err
	}
	_, err := fmt.Fprintf(out, "Records are kept for %d days: whenever the hub starts, older ones are erased.\n", days)
	return err
}
