using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;

namespace GrooveLab.Music.Bars;

/// <summary>What stands at the head of a piece.</summary>
/// <param name="Title">Its title; empty when it has none.</param>
/// <param name="Key">Its key; a section may have another, see <see cref="Bar.Key"/>.</param>
/// <param name="Meters">Its different meters in the order in which they come; not empty.</param>
public sealed record PieceHeading(string Title, Key Key, IReadOnlyList<BarMeter> Meters);
