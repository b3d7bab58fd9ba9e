/* The engine's own curves, learned from its sound pulls: what each watched thing was at each speed, at
 * what oil temperature. A limit against them needs no figure from a book. */
#pragma once
#include <glib.h>

#define EW_OWN_BINS    120
#define EW_OWN_BIN_RPM 100.0
#define EW_OWN_PULLS   12   /* kept */
#define EW_OWN_LIKE_K  10.0 /* oil no further away than this; common practice, no source */
#define EW_OWN_LEAST   2    /* pulls before an own curve counts */

struct ew_own_curves; /* opaque */
typedef struct ew_own_curves ew_own_curves;
struct ew_own_curves *ew_own_curves_new(void);
void ew_own_curves_free(struct ew_own_curves *own);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_own_curves, ew_own_curves_free)

/* While a pull is under way: one sample of one watch. */
void ew_own_curves_take(struct ew_own_curves *own, const char *watch, double speed_rpm,
                        double value);
/* The pull is over: learn what was taken, or forget it. */
void ew_own_curves_end(struct ew_own_curves *own, double oil_k, gboolean sound);
/* Mean and scatter at this speed; NaN when it is not known there. With `last` of the last pull only,
 * else of at least EW_OWN_LEAST like pulls. */
void ew_own_curves_at(const struct ew_own_curves *own, const char *watch, double speed_rpm,
                      double oil_k, gboolean last, double *mean, double *scatter);
/* Another one with the same pulls, for a thread that writes them down. */
struct ew_own_curves *ew_own_curves_copy(const struct ew_own_curves *own);
guint ew_own_curves_pulls(const struct ew_own_curves *own);
char *ew_own_curves_to_json(const struct ew_own_curves *own);
/* FALSE, and nothing learned, when the text is not one of ours. */
gboolean ew_own_curves_from_json(struct ew_own_curves *own, const char *json);
