#!/usr/bin/env bash
# The tables of docs/accuracy.md, "Score map". Renders leather close-ups of seeds
# that no constant was chosen by, takes the fabric photographs apart into the half
# that was used in tuning and the half that was not, and judges every variant.
# Some ten minutes on two cores.
set -euo pipefail
cd "$(dirname "$0")/.."
work=.cache/swatches
rm -rf "$work"
mkdir -p "$work"
echo "swatches: render"
"${HIDECHART:-bin/hidechart}" swatch render "$work/leather-held" --seed 20001 --count "${SWATCHES:-20}"
fabric=../shared/data/fabric/dataset_samples
if [ -d "$fabric" ]; then
	k=0
	for image in "$fabric"/images/*.jpg; do
		name=$(basename "$image" .jpg)
		half=fabric-tune
		((k % 2 == 0)) || half=fabric-held
		k=$((k + 1))
		for set in "$half" fabric-all; do
			mkdir -p "$work/$set/images" "$work/$set/masks"
			cp "$image" "$work/$set/images/"
			cp "$fabric/annotations/$name.png" "$work/$set/masks/"
		done
	done
else
	echo "swatches: no fabric photographs in $fabric; leather only"
fi
/usr/bin/python3 scripts/swatches.py
