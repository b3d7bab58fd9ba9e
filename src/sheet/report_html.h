/* The test report as one HTML file that needs no other: for a customer's screen. No script, nothing fetched,
 * the same figures as on paper; light and dark. Printed, the customer's part is one page of that paper, and the shop's
 * appendix and pictures begin on the next. */
#pragma once
#include "sheet/report.h"

/* Written beside its place and moved there when whole. */
gboolean ew_report_write_html(const struct ew_report *report, const char *path, enum ew_paper paper,
                              GError **error);
