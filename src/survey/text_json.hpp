#pragma once
// JSON as people can read it: what fits on a line stays on one, lists of points never run one number a line.

#include <nlohmann/json_fwd.hpp>
#include <string>

namespace lotwear {

/// Same value, same bytes. Text that is not UTF-8 is made so, a number that is not finite becomes null. Ends with a
/// newline.
std::string readable(const nlohmann::ordered_json& value);

}  // namespace lotwear
