# noqa: A005 - the folder mirrors src/gladebook/io
