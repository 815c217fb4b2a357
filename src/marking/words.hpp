#pragma once
// Which pieces are letters of painted words.

#include <vector>

#include "marking/reading.hpp"

namespace lotwear {

/// For each piece, whether it is a letter: pieces that the finder reads so, and their neighbours of like size and paint
/// that it half reads so (an I is a stripe to it, an L two). What stands in one row with letters, as high as they are,
/// is one of them whatever it looks like alone: the bowl of a P passes for an arrow.
std::vector<bool> letters_among(const PiecesRead& read, const Sight& sight);

/// Letters in sets whose members stand no further apart than `reach` times the larger one's longer side; alone is none.
std::vector<std::vector<std::size_t>> near_letters(const std::vector<bool>& lettered, const PiecesRead& read,
                                                   const Sight& sight, double reach = 1);

}  // namespace lotwear
