namespace GrooveLab.Music.Analysis;

/// <summary>A note as it was performed, in seconds. The times are measurements, not musical time.</summary>
/// <param name="Start">Its onset, in seconds.</param>
/// <param name="End">Its end, in seconds; not before the onset.</param>
/// <param name="Key">Its key, 0 to 127; for percussion the number of the instrument.</param>
/// <param name="Level">How loud it is, 0 to 1.</param>
/// <param name="Part">The part that plays it, from 0.</param>
/// <param name="IsPercussion">True when the key is an instrument and not a pitch.</param>
public readonly record struct PerformedNote(double Start, double End, int Key, double Level, int Part, bool IsPercussion);
