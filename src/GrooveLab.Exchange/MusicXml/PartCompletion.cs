using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Fills what a part leaves out: measures that it does not have, and the end of voices that stop before their measure.</summary>
internal static class PartCompletion
{
    /// <summary>The part with all measures of the grid.</summary>
    /// <param name="part">The part as read.</param>
    /// <param name="count">Number of measures of the grid.</param>
    /// <param name="extent">The length of the music in a measure.</param>
    /// <param name="remarks">Takes warnings.</param>
    public static WrittenPart Complete(WrittenPart part, int count, Func<int, Span> extent, MusicXmlRemarks remarks)
    {
        if (part.Measures.Count < count)
        {
            remarks.Path = $"part {MusicXmlValues.Short(part.Id)}";
            remarks.Warn(null, "a part has fewer measures than the others", "read the missing ones as empty");
        }

        var measures = new PartMeasure[count];
        for (var i = 0; i < count; i++)
        {
            measures[i] = i < part.Measures.Count ? Filled(part.Measures[i], extent(i)) : PartMeasure.Empty;
        }

        return part with { Measures = [.. measures] };
    }

    private static PartMeasure Filled(PartMeasure measure, Span length)
    {
        var isFull = true;
        foreach (var voice in measure.Voices)
        {
            isFull &= voice.Length >= length;
        }

        return isFull
            ? measure
            : measure with
            {
                Voices =
                [
                    .. measure.Voices.Select(voice => voice.Length >= length
                        ? voice
                        : voice with { Events = [.. voice.Events, new GapEvent(length - voice.Length)] }),
                ],
            };
    }
}
