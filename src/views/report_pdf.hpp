#pragma once
// The report as a PDF for print: the same content as the HTML page, laid out on Letter or A4.

#include <string>

#include "views/pdf_flow.hpp"
#include "views/report_content.hpp"

namespace lotwear {

/// Same content, same bytes: the date inside is the survey's.
std::string report_pdf(const ReportContent& content, PageSize size);

/// One evidence card, whole on one page.
void pdf_card(PdfFlow& flow, const ReportCard& card, double repaint_below);
double pdf_card_height(PdfFlow& flow, const ReportCard& card, double repaint_below);

void pdf_options(PdfFlow& flow, const ReportContent& content);
void pdf_schedule(PdfFlow& flow, const ReportContent& content);
void pdf_margin(PdfFlow& flow, const ReportContent& content);
void pdf_signature(PdfFlow& flow, const ReportContent& content);

}  // namespace lotwear
