"""Invented tracks of every kind of log, written here: a walk due east, a fix a second."""

import datetime as dt
import io
import json
import struct
import zipfile

ZERO = dt.datetime(2026, 1, 17, 9, 30, tzinfo=dt.UTC)
N = 40


def clock(i, form="%H%M%S"):
    return (ZERO + dt.timedelta(seconds=i)).strftime(form)


IGC = "AXXX001 invented\r\nHFDTE170126\r\n" + "".join(
    f"B{clock(i)}4600000N00700{i:03d}EA0100001010\r\n" for i in range(N)
)


def ubx(i, fix=3, flags=1, valid=3):
    at = ZERO + dt.timedelta(seconds=i)
    payload = struct.pack(
        "<IHBBBBBBIiBBBB", 0, at.year, at.month, at.day, at.hour, at.minute, at.second, valid, 0, 0, fix, flags, 0, 9
    )
    payload += struct.pack("<iiiiII", 70_000_000 + 100 * i, 460_000_000, 0, 1_000_000, 3000, 0)
    payload += bytes(92 - len(payload))
    body = b"\x01\x07" + struct.pack("<H", 92) + payload
    first = second = 0
    for byte in body:  # 8-bit Fletcher
        first = (first + byte) & 0xFF
        second = (second + first) & 0xFF
    return b"\xb5b" + body + bytes([first, second])


UBX = b"".join(b"$GNTXT,01*00\r\n" + ubx(i) for i in range(N))


POS_HEAD = (
    "% program   : invented\n% (lat/lon/height=WGS84/ellipsoidal,Q=1:fix,2:float,3:sbas,4:dgps,5:single,6:ppp,"
    "ns=# of satellites)\n"
    "%  GPST                  latitude(deg) longitude(deg)  height(m)   Q  ns   sdn(m)   sde(m)   sdu(m)\n"
)
POS = POS_HEAD + "".join(
    f"{clock(i + 18, '%Y/%m/%d %H:%M:%S')}.000   46.0  {7 + i * 1e-5:.9f}  1000.5   1   9   0.0300   0.0400   0.0500\n"
    for i in range(N)
)


GNSS_HEAD = (
    "# Header Description:\n# Fix,Provider,LatitudeDegrees,LongitudeDegrees,AltitudeMeters,SpeedMps,AccuracyMeters,"
    "BearingDegrees,UnixTimeMillis\n"
)


def gnss_line(i, provider="GPS"):
    return f"Fix,{provider},46.0,{7 + i * 1e-5:.10f},1000.0,0.5,3.0316,,{int(ZERO.timestamp() + i) * 1000}\n"


GNSS = GNSS_HEAD + "".join(gnss_line(i) + "Raw,1,2,3\n" + (gnss_line(i, "FLP") if i % 2 else "") for i in range(N))


FILES = {"UBX": UBX, "IGC": IGC.encode(), "POS": POS.encode(), "GNSS log": GNSS.encode()}


KML_PLACES = "".join(f"<when>{clock(i, '%Y-%m-%dT%H:%M:%SZ')}</when><coord>7.{i:05d} 46 9</coord>" for i in range(N))
KML = f"<kml><Placemark><name>w</name><Track>{KML_PLACES}</Track></Placemark></kml>".encode()
GEOJSON = json.dumps(
    {
        "type": "Feature",
        "geometry": {"type": "LineString", "coordinates": [[7 + i * 1e-5, 46.0] for i in range(N)]},
        "properties": {"coordTimes": [clock(i, "%Y-%m-%dT%H:%M:%SZ") for i in range(N)]},
    }
).encode()
NMEA = "".join(f"$GPRMC,{clock(i)},A,4600.0,N,00700.{i:03d},E,0,0,170126,,,A\n" for i in range(N)).encode()


def kmz_of(kml):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", kml)
    return buffer.getvalue()


FIT_BODY = struct.pack("<BBBHB", 0x40, 0, 0, 20, 3) + bytes((253, 4, 0x86, 0, 4, 0x85, 1, 4, 0x85))
FIT_BODY += b"".join(b"\x00" + struct.pack("<Iii", 1_100_000_000 + i, 2**29, i) for i in range(N))
SAMPLES = FILES | {
    "KML": KML, "GeoJSON": GEOJSON, "KMZ": kmz_of(KML), "NMEA": NMEA,
    "FIT": struct.pack("<BBHI4s", 12, 0x10, 100, len(FIT_BODY), b".FIT") + FIT_BODY + b"\x00\x00",
}  # fmt: skip


def table_of(head, row):
    """Return a table of the walk; `row`: number of the second -> cells."""
    return (head + "\n" + "".join(f"{row(i)}\n" for i in range(N))).encode()


TABLES = (
    table_of(
        "#time,trackpoint_type,latitude,longitude,altitude,accuracy_horizontal",
        lambda i: f'"{clock(i, "%Y-%m-%dT%H:%M:%SZ")}","POINT",46.0,{7 + i * 1e-5:.6f},12,3' if i else '"x","S",,,,',
    ),
    table_of(
        "Provider,LatitudeDegrees,LongitudeDegrees,AccuracyMeters,UnixTimeMillis",
        lambda i: f"{'gps' if i % 2 else 'network'},46.0,{7 + i * 1e-5:.6f},3,{int(ZERO.timestamp() + i) * 1000}",
    ),
    table_of(
        "sep=;\nDatum;Uhrzeit;Breite;Länge;Höhe;Genauigkeit (m)",
        lambda i: f"{clock(i, '%d.%m.%Y;%H:%M:%S')};46,0;7,{i:05d};1012;3",
    ),
    table_of(
        "INDEX,DATE,TIME,LATITUDE,N/S,LONGITUDE,E/W,HDOP",
        lambda i: f"{i},{clock(i, '%Y%m%d,%H%M%S')},4600.000,N,00700.{i:03d},E,0.9",
    ),
    table_of("elapsed,lat,lng", lambda i: f"{i}.5,46.0N,{7 + i * 1e-5:.6f}E"),
    table_of(
        "%time,field.latitude,field.longitude,field.position_covariance0,field.position_covariance4",
        lambda i: f"{int(ZERO.timestamp() + i)}000000000,46.0,{7 + i * 1e-5:.6f},0.09,0.16",
    ),
)
"""The walk as phones, loggers and web pages export tables."""
