using System.Globalization;
using GrooveLab.Music.Band;

namespace GrooveLab.Music.FromScore;

/// <summary>Chooses the house band for a tune.</summary>
internal static class BandChoice
{
    private const int MostOctaves = 2;

    /// <summary>The range into which a tune must be brought because no instrument reaches all its notes, not even octaves higher or lower: that of the
    /// instrument and octave that reach most of them. Null if nothing has to be moved.</summary>
    /// <param name="catalogue">The instruments.</param>
    /// <param name="notes">The tune's notes as MIDI numbers.</param>
    /// <param name="lines">How many lines there are.</param>
    public static (int Lowest, int Highest)? Reach(InstrumentCatalogue catalogue, IReadOnlyCollection<int> notes, int lines)
    {
        var band = HouseBand.Parts(catalogue);
        if (notes.Count == 0 || !band.Any(part => part.Role == Role.Tune))
        {
            return null;
        }

        (int Lowest, int Highest)? best = null;
        var most = -1;
        for (var far = 0; far <= MostOctaves; far++)
        {
            foreach (var octaves in far == 0 ? [0] : new[] { far, -far })
            {
                foreach (var instrument in Candidates(catalogue, band.First(part => part.Role == Role.Tune), lines))
                {
                    var register = catalogue.Register(instrument, Role.Tune);
                    var (low, high) = (register.Lowest - (12 * octaves), register.Highest - (12 * octaves));
                    var inside = notes.Count(note => note >= low && note <= high);
                    if (inside == notes.Count)
                    {
                        return null;
                    }

                    if (inside > most && high - low >= 11)
                    {
                        (best, most) = ((low, high), inside);
                    }
                }
            }
        }

        return best;
    }

    /// <summary>The house band, with another instrument for the tune if the usual one does not reach its notes.</summary>
    /// <param name="catalogue">The instruments.</param>
    /// <param name="lowest">The tune's lowest note as a MIDI number.</param>
    /// <param name="highest">Its highest note.</param>
    /// <param name="lines">How many lines there are; several need an instrument that sounds several notes at once.</param>
    /// <param name="losses">Receives a tune that has to be moved.</param>
    /// <exception cref="ArgumentException">No instrument reaches the tune; see <see cref="Reach"/>.</exception>
    public static IReadOnlyList<Part> Of(InstrumentCatalogue catalogue, int lowest, int highest, int lines, LossList losses)
    {
        var band = HouseBand.Parts(catalogue).ToList();
        var at = band.FindIndex(part => part.Role == Role.Tune);
        if (at < 0 || Fits(band[at].Lowest, band[at].Highest, 0))
        {
            return band;
        }

        var candidates = Candidates(catalogue, band[at], lines);
        for (var far = 0; far <= MostOctaves; far++)
        {
            foreach (var octaves in far == 0 ? [0] : new[] { far, -far })
            {
                foreach (var instrument in candidates)
                {
                    var register = catalogue.Register(instrument, Role.Tune);
                    if (Fits(register.Lowest, register.Highest, octaves))
                    {
                        var part = HouseBand.Part(Role.Tune, instrument, catalogue);

                        // The house band's cello sustains; a second one needs a name.
                        band[at] = part with
                        {
                            Name = HouseBand.FreeName(instrument, [.. band.Where((_, i) => i != at).Select(other => other.Name)]),
                            Settings = octaves == 0 ? part.Settings : new TuneSettings { Octaves = octaves },
                        };
                        if (octaves != 0)
                        {
                            losses.Add(
                                "the tune's octave",
                                string.Create(CultureInfo.InvariantCulture, $"no instrument has its range; {instrument.Name} plays it {Math.Abs(octaves)} octave{(far > 1 ? "s" : string.Empty)} {(octaves > 0 ? "higher" : "lower")} (octaves = {octaves})"),
                                null,
                                null);
                        }

                        return band;
                    }
                }
            }
        }

        throw new ArgumentException("No instrument reaches the tune; bring its notes within reach first.", nameof(highest));

        bool Fits(int low, int high, int octaves) => lowest + (12 * octaves) >= low && highest + (12 * octaves) <= high;
    }

    // Instruments that hold their notes are nearest to a voice.
    private static List<Instrument> Candidates(InstrumentCatalogue catalogue, Part usual, int lines) => [.. catalogue.All
        .Where(instrument => !instrument.Unpitched && catalogue.Suits(instrument, Role.Tune) && (lines < 2 || instrument.Voices > 1))
        .OrderByDescending(instrument => instrument.Name == usual.Instrument.Name)
        .ThenByDescending(instrument => instrument.Holds)];
}
