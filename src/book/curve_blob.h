/* A curve as bytes: what the book stores, and what its digest is computed over. Little-endian doubles
 * in a fixed order; the same curve gives the same bytes on every machine. */
#pragma once
#include "pull/curve.h"

GBytes *ew_curve_to_bytes(const struct ew_curve *curve);
/* Of this version of the bytes or the one before. NULL when they aren't a curve, whatever they are. */
struct ew_curve *ew_curve_from_bytes(const void *bytes, gsize size);
/* Do these bytes, of either version, say the same as `curve`? */
gboolean ew_curve_has_bytes(const struct ew_curve *curve, GBytes *bytes);
