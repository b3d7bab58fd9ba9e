/* A curve as bytes: what the book stores, and what its digest is computed over. Little-endian doubles
 * in a fixed order; the same curve gives the same bytes on every machine. */
#pragma once
#include "pull/curve.h"

GBytes *ew_curve_to_bytes(const struct ew_curve *curve);
/* NULL when the bytes are no curve of this version. */
struct ew_curve *ew_curve_from_bytes(const void *bytes, gsize size);
