package sqlite

import (
	"context"
	"fmt"
)

// Alone puts everything of a store into its one file, and fails when any other program has it open.
// Then the file can be put aside or replaced.
func Alone(ctx context.Context, path string) error {
	db := open(path, Options{}, true)
	defer db.Close()
	db.SetMaxOpenConns(1)
	var mode string
	err := db.QueryRowContext(ctx, `pragma journal_mode = delete`).Scan(&mode)
	if err == nil && mode != "delete" {
		err = fmt.Errorf("the journal mode stays %s", mode)
	}
	if err != nil {
		if plain := explain(err); plain != nil {
			err = plain
		}
		return fmt.Errorf("the store %s can't be put aside: %w", path, err)
	}
	return nil
}
