"""The only readers and writers: bytes <-> checked values, one module per format.

`parse_x(data, name=...)` takes the bytes; `read_x(path)` opens the file, where one is opened alone. Every problem is
one `InputError` that says where, what and what to do; rows that are set aside are counted by reason.
"""
