/* Any bytes, in pieces of any size, through the line parser; each row must have the channels that were
 * announced. */
#include "cell/line_parser.h"
#include <stdint.h>

static void head(gpointer user, const struct ew_source_channels *channels) {
  *(guint *)user = channels->count;
}

static void frame(gpointer user, double time_s, double arrival_s, const double *values) {
  volatile double sum = time_s + arrival_s;
  for (guint i = 0; i < *(guint *)user; i++)
    sum += values[i];
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  guint channels = 0;
  struct ew_source_sink sink = {head, frame, NULL, &channels};
  g_autoptr(ew_line_parser) parser = ew_line_parser_new();
  size_t piece = size ? data[0] % 64 + 1u : 1;
  for (size_t at = 1; at < size; at += piece)
    ew_line_parser_feed(parser, (const char *)data + at, MIN(piece, size - at), (double)at, &sink);
  ew_line_parser_end(parser, 0, &sink);
  return 0;
}
