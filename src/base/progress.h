/* How far a long work is, for whoever waits for it: a share from 0 to 1 that never goes back. Nobody need listen: a NULL
 * function is never called. */
#pragma once
#include <glib.h>

typedef void (*ew_progress)(double share, gpointer data);

/* Work in steps whose number is known before. */
struct ew_steps {
  ew_progress show; /* may be NULL */
  gpointer data;
  guint done, all;
};
static inline void ew_step(struct ew_steps *steps) {
  steps->done += steps->done < steps->all;
  if (steps->show && steps->all)
    steps->show((double)steps->done / steps->all, steps->data);
}
