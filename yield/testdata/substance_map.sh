#!/bin/sh
# Reference values of TestSubstanceMapAgainstGDAL: gdal_grid (Debian 12, gdal-bin).
# Prints x, y, thickness at the centres of a 4 × 4 grid over 0..1000 mm.
set -e
dir=$(mktemp -d)
cat > "$dir/readings.csv" <<'CSV'
x,y,mm
200,300,1.30
800,250,1.62
700,800,1.55
150,900,1.18
500,520,1.45
950,600,1.70
CSV
cat > "$dir/readings.vrt" <<VRT
<OGRVRTDataSource><OGRVRTLayer name="readings"><SrcDataSource>$dir/readings.csv</SrcDataSource>
<GeometryType>wkbPoint</GeometryType><GeometryField encoding="PointFromColumns" x="x" y="y"/>
</OGRVRTLayer></OGRVRTDataSource>
VRT
gdal_grid -q -zfield mm -a invdist:power=2:smoothing=0 -txe 0 1000 -tye 0 1000 -outsize 4 4 -ot Float64 "$dir/readings.vrt" "$dir/out.tif"
gdal_translate -q -of XYZ "$dir/out.tif" "$dir/out.xyz"
gdalinfo --version
cat "$dir/out.xyz"
rm -r "$dir"
