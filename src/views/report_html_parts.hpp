#pragma once
// Parts of the HTML page that several sections share, and the sections of the bid.

#include <string>
#include <vector>

#include "views/report_content.hpp"

namespace lotwear {

std::string list_of(const std::vector<std::string>& points);
/// A list of names and values; every kind but "facts" puts each pair into a div.
std::string facts_of(const std::vector<ReportFact>& facts, const char* kind);
std::string table_of(const ReportTable& table, const std::string& caption, const std::vector<ReportFact>& totals);

std::string site_plan_html(const ReportContent& content);
std::string options_html(const ReportContent& content);
std::string schedule_html(const ReportContent& content);
/// Only in the contractor's copy; else empty.
std::string margin_html(const ReportContent& content);
std::string signature_html(const ReportContent& content);

}  // namespace lotwear
