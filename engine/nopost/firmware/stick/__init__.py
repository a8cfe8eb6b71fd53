"""The stick with the firmware on it: partitions, file systems, names, and what keeps a button from reading it. Only
reads.

`partition_table` holds the values, and the budget that ends every walk; bytes come from `bounded_bytes`, whose window gives fewer
where there are none. `partition_table` and `file_system` find out what is there, `directory` lists the files, and
`stick_reader` looks at an image, a device or a mounted folder with them. `file_check` compares file and name with
what the button wants, `stick_check` the medium, and joins both.

A new check is one more `CheckResult`, in `stick_check` for the medium or in `file_check` for file and name, with its source
beside it.
"""
