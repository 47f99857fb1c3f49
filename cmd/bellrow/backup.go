package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"bellrow/hub/sqlite"
)

func runBackup(ctx context.Context, e env, args []string) error {
	set := flagSet(e, "backup", "[--data DIR] [--to FILE]\n\nWrites a copy of the hub's data, also while the hub runs. Never copy the data folder by hand while the hub runs: part of it would be missing.")
	data := set.String("data", defaultData(), "data `folder`")
	to := set.String("to", "", "copy to this `file`; without it, a dated one in the present folder")
	if err := parse(set, args); err != nil {
		return err
	}
	from := filepath.Join(*data, databaseFile)
	if _, err := os.Stat(from); err != nil {
		return say("give the hub's folder with --data", "there is no data in %s", *data)
	}
	if *to == "" {
		*to = "bellrow-" + time.Now().Format("2006-01-02-150405") + ".db"
	}
	if _, err := os.Stat(*to); !errors.Is(err, fs.ErrNotExist) {
		return say("give another file with --to", "%s is there already and is left as it is", *to)
	}
	store, err := sqlite.Open(ctx, from)
	if err != nil {
		return storeError(*data, err)
	}
	defer store.Close()
	if err := store.Backup(ctx, *to); err != nil {
		return say("choose a folder with space that you may write to", "the copy could not be written: %v", err)
	}
	_, err = fmt.Fprintf(e.stdout, "The data of %s is in %s. To go back to it, stop the hub and put it there as %s.\n", *data, *to, databaseFile)
	return err
}
