/* What the tests of sources share: a listener that keeps the last frame and the names of events. */
#pragma once
#include "cell/source.h"
#include <string.h>

struct heard {
  guint rows, channels;
  double values[16];
  GString *events;
};
static void head(gpointer user, const struct ew_source_channels *channels) {
  ((struct heard *)user)->channels = channels->count;
}
static void frame(gpointer user, double time_s, double arrival_s, const double *values) {
  struct heard *h = user;
  (void)time_s, (void)arrival_s;
  h->rows++;
  memcpy(h->values, values, h->channels * sizeof(double));
}
static void event(gpointer user, enum ew_source_event which, const ew_message *what) {
  (void)what;
  g_string_append_printf(((struct heard *)user)->events, "%s,", ew_source_event_names[which]);
}
