#pragma once
// The part of the report that is the bid: quantities, price, options, crew plan, signatures; and, in the contractor's
// copy alone, costs, margin and workings.

#include <vector>

#include "tally/tally.hpp"
#include "views/report_content.hpp"

namespace lotwear {

void add_bid(ReportContent& content, const Estimate& estimate, const std::vector<Estimate>& options,
             const ReportSettings& settings);

}  // namespace lotwear
