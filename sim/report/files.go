package report

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// File is one output: its name inside the folder, and what writes it.
type File struct {
	Name  string
	Write func(io.Writer) error
}

// WriteFiles writes all the files into dir, or none: first under temporary names in dir, then all are renamed, in the
// order given, over what stood there before. It makes dir, and the folders above it, where they are missing. On an
// error, or a panic in a Write, it removes what it made, the folders too.
func WriteFiles(dir string, files []File) (err error) {
	var made []string // files and folders, in the order made
	done := false
	defer func() {
		if done {
			return
		}
		for i := len(made) - 1; i >= 0; i-- {
			os.Remove(made[i]) // a folder into which someone else has written meanwhile stays
		}
	}()
	if err := makeDir(dir, &made); err != nil {
		return err
	}
	temps := make([]string, len(files))
	for i, f := range files {
		if info, err := os.Stat(filepath.Join(dir, f.Name)); err == nil && info.IsDir() {
			return fmt.Errorf("%s: is a folder, a file is to be written there", filepath.Join(dir, f.Name))
		}
		if temps[i], err = writeTemp(dir, f, &made); err != nil {
			return fmt.Errorf("%s: %w", filepath.Join(dir, f.Name), err)
		}
	}
	for i, f := range files {
		name := filepath.Join(dir, f.Name)
		if err := os.Rename(temps[i], name); err != nil {
			return err
		}
		made = append(made, name)
	}
	done = true
	return nil
}

// makeDir makes dir and what is missing above it, each noted in made.
func makeDir(dir string, made *[]string) error {
	info, err := os.Stat(dir)
	switch {
	case err == nil && !info.IsDir():
		return fmt.Errorf("%s: is a file, a folder is needed", dir)
	case err == nil:
		return nil
	case !errors.Is(err, fs.ErrNotExist):
		return err
	}
	if parent := filepath.Dir(dir); parent != dir {
		if err := makeDir(parent, made); err != nil {
			return err
		}
	}
	if err := os.Mkdir(dir, 0o777); err != nil {
		var at *fs.PathError
		if errors.As(err, &at) && errors.Is(err, fs.ErrNotExist) { // the folder above is there, and takes none
			return fmt.Errorf("no folder can be made in %s", filepath.Dir(dir))
		}
		return err
	}
	*made = append(*made, dir)
	return nil
}

// writeTemp writes f under a temporary name, noted in made before the first byte, and returns that name.
func writeTemp(dir string, f File, made *[]string) (string, error) {
	var out *os.File
	var err error
	for i := range 1000 { // os.CreateTemp would shut others out of the file, whatever the umask allows
		out, err = os.OpenFile(filepath.Join(dir, fmt.Sprintf(".%s.part%d", f.Name, i)), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if !errors.Is(err, fs.ErrExist) {
			break
		}
	}
	if err != nil {
		return "", err
	}
	*made = append(*made, out.Name())
	defer out.Close()
	buffered := bufio.NewWriterSize(out, 1<<16)
	if err := f.Write(buffered); err != nil {
		return "", err
	}
	if err := buffered.Flush(); err != nil {
		return "", err
	}
	return out.Name(), out.Close()
}
