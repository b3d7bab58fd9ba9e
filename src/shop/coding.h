/* The bytes of rows on their way: compressed where that makes them smaller, and held against their digest when they come back. */
#pragma once
#include <glib.h>

/* *coding: "zlib" (RFC 1950), or "plain" where that would not be smaller. */
GBytes *ew_coding_pack(GBytes *bytes, const char **coding);
/* Refuses another coding, another size than `size`, and another digest. Never takes more memory than `size`. */
GBytes *ew_coding_unpack(GBytes *coded, const char *coding, gint64 size, const char *sha256,
                         GError **error);
