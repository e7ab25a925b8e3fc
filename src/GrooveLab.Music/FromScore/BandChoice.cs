using System.Globalization;
using GrooveLab.Music.Band;

namespace GrooveLab.Music.FromScore;

/// <summary>Chooses the house band for a tune.</summary>
internal static class BandChoice
{
    private const int MostOctaves = 2;

    /// <summary>The house band, with another instrument for the tune if the usual one does not reach its notes.</summary>
    /// <param name="catalogue">The instruments.</param>
    /// <param name="lowest">The tune's lowest note as a MIDI number.</param>
    /// <param name="highest">Its highest note.</param>
    /// <param name="lines">How many lines there are; several need an instrument that sounds several notes at once.</param>
    /// <param name="losses">Receives a tune that has to be moved.</param>
    public static IReadOnlyList<Part> Of(InstrumentCatalogue catalogue, int lowest, int highest, int lines, LossList losses)
    {
        var band = HouseBand.Parts(catalogue).ToList();
        var at = band.FindIndex(part => part.Role == Role.Tune);
        if (at < 0 || Fits(band[at].Lowest, band[at].Highest, 0))
        {
            return band;
        }

        // Instruments that hold their notes are nearest to a voice.
        var candidates = catalogue.All
            .Where(instrument => !instrument.Unpitched && catalogue.Suits(instrument, Role.Tune) && (lines < 2 || instrument.Voices > 1))
            .OrderByDescending(instrument => instrument.Name == band[at].Instrument.Name)
            .ThenByDescending(instrument => instrument.Holds).ToList();
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

        losses.Add("notes beyond the range of every instrument", $"{band[at].Instrument.Name} plays the tune as far as it can", null, null);
        return band;

        bool Fits(int low, int high, int octaves) => lowest + (12 * octaves) >= low && highest + (12 * octaves) <= high;
    }
}
