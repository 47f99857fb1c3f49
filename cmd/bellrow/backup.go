package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"bellrow/hub/sqlite"
)

func backupCommand(e env) *cobra.Command {
	var data, to string
	c := &cobra.Command{
		Use: "backup", Short: "a copy of the hub's data",
		Long: `Writes a copy of the hub's data, also while the hub runs. Never copy the data
folder by hand while the hub runs: part of it would be missing.`,
		Example: "bellrow backup --to monday.db",
		Args:    noWords("the copy's name is given with --to"),
	}
	dataFlag(c, &data)
	text(c, &to, "to", "", "copy to this `FILE`; without it, a dated one in the present folder")
	c.RunE = func(c *cobra.Command, _ []string) error {
		store, err := openRecords(c, &data)
		if err != nil {
			return err
		}
		defer store.Close()
		if to == "" {
			to = "bellrow-" + time.Now().Format("2006-01-02-150405") + ".db"
		}
		if _, err := os.Stat(to); !errors.Is(err, fs.ErrNotExist) {
			return say("give another file with --to", "%s is there already and is left as it is", to)
		}
		if err := store.Backup(c.Context(), to); err != nil {
			return say("choose a folder with space that you may write to", "the copy could not be written: %v", err)
		}
		_, err = fmt.Fprintf(e.stdout, "The data of %s is in %s. To go back to it, stop the hub and put it there as %s.\n", data, to, databaseFile)
		return err
	}
	return c
}

// openRecords opens the data that a hub left, also beside one that runs.
func openRecords(c *cobra.Command, data *string) (*sqlite.Store, error) {
	if err := folderGiven(c, "data", data, "hub"); err != nil {
		return nil, err
	}
	from := filepath.Join(*data, databaseFile)
	if _, err := os.Stat(from); err != nil {
		return nil, say("give the hub's folder with --data", "there is no data in %q", *data)
	}
	store, err := sqlite.Open(c.Context(), from)
	if err != nil {
		return nil, storeError(*data, err)
	}
	return store, nil
}
