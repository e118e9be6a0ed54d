// Command tideover tells whether a battery tides a small building over a year of weather.
package main

import "os"

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }
