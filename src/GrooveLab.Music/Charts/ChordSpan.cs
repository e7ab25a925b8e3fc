using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>A chord and how long it holds in its bar.</summary>
/// <param name="Onset">From the bar line.</param>
/// <param name="Length">How long it holds.</param>
/// <param name="Symbol">The chord; <see cref="ChordSymbol.NoChord"/> for silence of harmony.</param>
public readonly record struct ChordSpan(Span Onset, Span Length, ChordSymbol Symbol);
