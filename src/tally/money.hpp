#pragma once
// Exact money: whole cents and whole hundredths, never a fraction of a cent in a double. Rounding is half away from
// zero, once a line.

#include <cstdint>
#include <string>

namespace lotwear {

/// Quantity in hundredths x cents each, to the cent. Throws Failure, beginning with `what`, beyond any job.
std::int64_t cents_for(std::int64_t hundredths_of_unit, std::int64_t cents_each, const std::string& what);

/// A share of an amount, to the cent; 825 is 8.25 %.
std::int64_t share_of(std::int64_t cents, std::int64_t hundredths_of_percent, const std::string& what);

/// A measured quantity as it stands on paper, in hundredths. Throws Failure for a negative or senseless one.
std::int64_t whole_hundredths(double value, const std::string& what);

/// "1234.50"
std::string money_text(std::int64_t cents);

/// "8.25 %", "10 %"
std::string share_text(std::int64_t hundredths_of_percent);

}  // namespace lotwear
