using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;

namespace GrooveLab.Music.Bars;

/// <summary>The heading of a piece.</summary>
/// <param name="Title">Its title; empty for none.</param>
/// <param name="Key">Its key; a section may have another, see <see cref="Bar.Key"/>.</param>
/// <param name="Meters">Its different meters in order of appearance; not empty.</param>
public sealed record PieceHeading(string Title, Key Key, IReadOnlyList<BarMeter> Meters);
