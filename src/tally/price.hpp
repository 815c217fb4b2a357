#pragma once
// From quantities and a crew plan to what the owner pays, and what it costs.

#include "tally/rates.hpp"
#include "tally/tally.hpp"

namespace lotwear {

/// Labour and tools for every line that needs work; what cannot be priced goes into the notes.
void price_work(Estimate& sum, const Rates& rates);
/// Paint, beads, primer, disposal, with the mark-up in their unit prices.
void price_materials(Estimate& sum, const Rates& rates);
/// Extras, mobilisation, then in this order: night and weekend (on labour and tools), discount (off everything so far),
/// minimum (on what is left), tax.
void price_job(Estimate& sum, const Rates& rates, const EstimateSettings& settings);

/// What it costs by the rates' `costs`; nothing without them.
std::optional<Margin> margin_of(const Estimate& sum, const Rates& rates);

/// A price with the mark-up on it, to the cent.
std::int64_t marked_up(std::int64_t cents, const Rates& rates);

}  // namespace lotwear
