/* The test report as one HTML file that needs no other: for a customer's screen. No script, nothing fetched,
 * the same figures, cautions and digests as on paper; light and dark, and it prints. */
#pragma once
#include "sheet/report.h"

/* Written beside its place and moved there when whole. */
gboolean ew_report_write_html(const struct ew_report *report, const char *path, GError **error);
