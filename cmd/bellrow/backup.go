package main

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/hub/sqlite"
)

func backupCommand(e env) *cobra.Command {
	var data, to string
	c := &cobra.Command{
		Use: "backup [FILE]", Short: "a copy of the hub's data",
		Long: `Writes a copy of the hub's data and of its key, also while the hub runs, for
your eyes only. Never copy the data folder by hand while the hub runs: part of
it would be missing. bellrow restore puts a copy back.`,
		Example: "bellrow backup monday.db",
		Args:    takes(0, 1, "file", "for example bellrow backup monday.db"),
	}
	dataFlag(c, &data)
	text(c, &to, "to", "", "copy to this `FILE`; without it, a dated one in the present folder")
	c.RunE = func(c *cobra.Command, words []string) error {
		switch {
		case len(words) == 1 && to != "":
			return misused("leave out --to", "a copy goes to one file")
		case len(words) == 1:
			to = words[0]
		case to == "":
			to = "bellrow-" + time.Now().Format("2006-01-02-150405") + ".db"
		}
		store, err := openRecords(c, &data)
		if err != nil {
			return err
		}
		defer store.Close()
		if _, err := os.Stat(to); !errors.Is(err, fs.ErrNotExist) {
			return say("give another file", "%s is there already and is left as it is", to)
		}
		if err := store.Backup(c.Context(), to, access.KeyFiles...); err != nil {
			return say("choose a folder with space that you may write to", "the copy could not be written: %v", err)
		}
		_, err = fmt.Fprintf(e.stdout, "The data of %s is in %s. Who has this file has the hub's keys: keep it as you keep them.\nTo go back to it: bellrow restore %s\n", data, to, to)
		return err
	}
	return c
}

func restoreCommand(e env) *cobra.Command {
	var data string
	var carry, other bool
	c := &cobra.Command{
		Use: "restore FILE", Short: "put a copy back in place of the hub's data",
		Long: `Puts a copy that bellrow backup made back in place of the hub's data. Stop the
hub first. What is there now is kept beside it.

To carry on is for a replaced laptop, or to go back: it is the same hub, and
every player's laptop knows it. A copy is another hub beside the first one: with
new keys, which every player joins anew.`,
		Example: "bellrow restore --carry-on monday.db",
		Args:    takes(1, 1, "file", "for example bellrow restore monday.db"),
	}
	dataFlag(c, &data)
	flag(c, &carry, "carry-on", "the same hub goes on from the copy")
	flag(c, &other, "copy", "make another hub of the copy")
	c.RunE = func(c *cobra.Command, words []string) (err error) {
		if err := oneOf(c, "carry-on", "copy"); err != nil {
			return err
		}
		if err := folderGiven(c, "data", &data, "hub"); err != nil {
			return err
		}
		if err := hasContent(words[0]); err != nil {
			return err
		}
		if !carry && !other {
			if other, err = askWhichHub(e); err != nil {
				return err
			}
		}
		p := sqlite.Plan{From: words[0], To: filepath.Join(data, databaseFile), Files: access.KeyFiles, Now: time.Now()}
		if other {
			p.Fresh = []string{"hub", keyJoin, keyRules}
		}
		aside, err := sqlite.Restore(c.Context(), p)
		if err != nil {
			return restoreError(words[0], data, err)
		}
		how := "The hub goes on from"
		if other {
			how = "Another hub begins with"
		}
		fmt.Fprintf(e.stdout, "%s %s: start it with bellrow hub.\n", how, words[0])
		if aside != "" {
			fmt.Fprintf(e.stdout, "What was there before is in %s; delete it when you need it no more.\n", aside)
		}
		return nil
	}
	return c
}

// askWhichHub asks whether a copy becomes another hub.
func askWhichHub(e env) (other bool, err error) {
	fmt.Fprint(e.stdout, "Does the same hub go on (a replaced laptop, or going back), or does the copy become another hub beside it?\nType same or other: ")
	line := ""
	if e.stdin != nil {
		line, _ = bufio.NewReader(e.stdin).ReadString('\n')
	}
	switch strings.ToLower(strings.TrimSpace(line)) {
	case "same":
		return false, nil
	case "other":
		return true, nil
	}
	return false, misused("give --carry-on for the same hub, or --copy for another", "it was not said which hub this becomes")
}

// restoreError says what to do about a copy that cannot be put back. Nothing
// has changed then.
func restoreError(from, dir string, err error) error {
	switch {
	case errors.Is(err, hub.ErrInUse):
		return say("stop the hub, then try again", "a hub is at work on the data folder %s", dir)
	case errors.Is(err, hub.ErrNewer):
		return say("update bellrow on this laptop", "the copy %s was written by a newer version", from)
	case errors.Is(err, hub.ErrDamaged):
		return say("take an earlier copy; the data folder is as it was", "the copy %s cannot be used: %v", from, err)
	case errors.Is(err, hub.ErrFull):
		return say("free some space, then try again; what is there is as it was", "the disk of the data folder %s is full", dir)
	case errors.Is(err, hub.ErrReadOnly):
		return say("make it writable, then try again; what is there is as it was", "the data folder %s cannot be written", dir)
	case errors.Is(err, fs.ErrNotExist):
		return say("give the file that bellrow backup wrote", "there is no %s", from)
	}
	return say("the data folder is as it was", "the copy could not be put back: %v", err)
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
