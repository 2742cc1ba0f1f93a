package pipeline

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// Bytes a capture needs at its peak, for deciding whether two fit at once.
const (
	// top, back and one more in linear light (6 each) with the next two being decoded (3
	// each) and made linear (6 each), per pixel of one photograph
	bytesPerPhotoPixel = 36
	// per pixel of the whole table's raster: 6 for each light on the hide's part of
	// it, and the detectors' fields; 1.6 to 1.9 GB measured on a 24 megapixel capture
	// of four lights, 3.2 by this estimate: a larger hide fills more of its table
	bytesPerRasterPixel = 72
	// program, libraries, exports
	bytesAlways = 200 << 20
)

// need estimates a capture's peak memory in bytes.
func need(in inputs, p Params) int64 {
	photo := int64(in.images[0].WidthPX) * int64(in.images[0].HeightPX)
	if at := in.tiles(in.images[0].Light); at != nil {
		photo *= int64(len(at)) // all tiles of a light at once
	}
	mm := float64(p.MMPerPX)
	if mm == 0 {
		mm = finest
	}
	raster := float64(in.rig.Width) / mm * float64(in.rig.Height) / mm
	return bytesAlways + bytesPerPhotoPixel*photo + int64(bytesPerRasterPixel*raster)
}

// keepFree is the share of the available memory left to everything else.
const keepFree = 0.15

// available is how much memory a run may take, in bytes: what the system calls
// available, or less where a control group limits this process. 0: not known.
func available() int64 {
	free := meminfo("/proc/meminfo")
	if limit := cgroupFree("/sys/fs/cgroup", "/proc/self/cgroup"); limit > 0 && (free == 0 || limit < free) {
		free = limit
	}
	return int64(float64(free) * (1 - keepFree))
}

// meminfo reads MemAvailable (proc(5)), kilobytes there.
func meminfo(path string) int64 {
	data, err := os.ReadFile(path)
	if err != nil {
		return 0
	}
	for _, line := range strings.Split(string(data), "\n") {
		f := strings.Fields(line)
		if len(f) >= 2 && f[0] == "MemAvailable:" {
			kb, err := strconv.ParseInt(f[1], 10, 64)
			if err != nil {
				return 0
			}
			return kb << 10
		}
	}
	return 0
}

// cgroupFree is the least room left in this process's control group and those
// above it: version 2 (memory.max) or 1 (memory/memory.limit_in_bytes). 0: no
// limit found.
func cgroupFree(root, self string) int64 {
	data, _ := os.ReadFile(self)
	least := int64(0)
	take := func(limit, used int64) {
		if room := limit - used; limit > 0 && (least == 0 || room < least) {
			least = max(room, 1)
		}
	}
	groups := []string{"/"}
	for _, line := range strings.Split(string(data), "\n") {
		if part := strings.SplitN(line, ":", 3); len(part) == 3 && (part[1] == "" || strings.Contains(part[1], "memory")) {
			groups = append(groups, part[2])
		}
	}
	for _, g := range groups {
		for ; ; g = filepath.Dir(g) {
			v2 := filepath.Join(root, g)
			take(number(filepath.Join(v2, "memory.max")), number(filepath.Join(v2, "memory.current"))-cached(filepath.Join(v2, "memory.stat"), "inactive_file"))
			v1 := filepath.Join(root, "memory", g)
			take(number(filepath.Join(v1, "memory.limit_in_bytes")), number(filepath.Join(v1, "memory.usage_in_bytes"))-cached(filepath.Join(v1, "memory.stat"), "total_inactive_file"))
			if g == "/" || g == "." {
				break
			}
		}
	}
	return least
}

// cached reads how much of a group's memory is file cache that the kernel gives
// up when asked.
func cached(path, key string) int64 {
	data, err := os.ReadFile(path)
	if err != nil {
		return 0
	}
	for _, line := range strings.Split(string(data), "\n") {
		if f := strings.Fields(line); len(f) == 2 && f[0] == key {
			n, err := strconv.ParseInt(f[1], 10, 64)
			if err == nil {
				return n
			}
		}
	}
	return 0
}

// unlimited is what version 1 writes for no limit, near the largest int64.
const unlimited = 1 << 60

func number(path string) int64 {
	data, err := os.ReadFile(path)
	if err != nil {
		return 0
	}
	n, err := strconv.ParseInt(string(bytes.TrimSpace(data)), 10, 64)
	if err != nil || n >= unlimited { // "max"
		return 0
	}
	return n
}
