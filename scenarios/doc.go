// Package scenarios turns a scenario file into checked values of the boxes, and says by file, line and column what is
// wrong with it. It is the only package that knows YAML.
//
// The way through: parse makes a tree of plain keys out of the bytes and refuses what YAML can do and a scenario does
// not need (aliases, tags, several documents); each lays the variants over the base; section walks one mapping against
// the keys that a box declares. All faults of a file are gathered and told in file order.
package scenarios
