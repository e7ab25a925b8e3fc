namespace GrooveLab.Music.Analysis;

/// <summary>What happens on each pulse of a performance, as numbers with mean 0 and deviation 1: how much begins there, how low and how
/// long it is, how loud, and whether the harmony changes.</summary>
internal sealed class PerformedAccents
{
    // The harmony before and after a pulse is compared over this many pulses.
    private const int HarmonyPulses = 3;
    private const int MostParts = 8;
    private const double LongestPulses = 6;

    /// <summary>Computes the accents.</summary>
    public PerformedAccents(IReadOnlyList<PerformedNote> notes, PerformedPulses pulses)
    {
        var n = pulses.Times.Length;
        double[] onset = new double[n], bass = new double[n], length = new double[n], level = new double[n], count = new double[n];
        var chroma = new double[n][];
        for (var k = 0; k < n; k++)
        {
            chroma[k] = new double[12];
        }

        var parts = new Dictionary<int, double[]>();
        foreach (var group in notes.GroupBy(note => note.Part).OrderByDescending(group => group.Count()).Take(MostParts))
        {
            parts.Add(group.Key, new double[n]);
        }

        for (var i = 0; i < notes.Count; i++)
        {
            var note = notes[i];
            var place = pulses.Places[i];
            var k = Math.Min(place / PulseGrid.Fine, n - 1);
            var isOn = place % PulseGrid.Fine == 0;
            var seconds = note.End - note.Start;
            if (!note.IsPercussion)
            {
                chroma[k][note.Key % 12] += Math.Min(seconds / pulses.Period, 3);
            }

            if (!isOn)
            {
                continue;
            }

            onset[k]++;
            level[k] += note.Level;
            count[k]++;
            if (parts.TryGetValue(note.Part, out var own))
            {
                own[k] = Math.Max(own[k], 0.5 + note.Level);
            }

            if (!note.IsPercussion)
            {
                length[k] = Math.Max(length[k], Math.Min(seconds / pulses.Period, LongestPulses));
                bass[k] = Math.Max(bass[k], Math.Max(0, (64 - note.Key) / 24.0) * Math.Min(seconds / pulses.Period, 3));
            }
        }

        for (var k = 0; k < n; k++)
        {
            onset[k] = Math.Log(1 + onset[k]);
            level[k] = count[k] > 0 ? level[k] / count[k] : 0;
        }

        Series = [.. new[] { onset, bass, length, level, Harmony(chroma) }.Select(Standard)];
        ByPart = [.. parts.Values.Select(Standard)];
    }

    /// <summary>Onsets, bass, length, level, change of harmony.</summary>
    public IReadOnlyList<double[]> Series { get; }

    /// <summary>The onsets of each of the busiest parts with their levels.</summary>
    public IReadOnlyList<double[]> ByPart { get; }

    private static double[] Harmony(double[][] chroma)
    {
        var change = new double[chroma.Length];
        for (var k = 1; k < chroma.Length; k++)
        {
            double ab = 0, aa = 0, bb = 0;
            for (var pitch = 0; pitch < 12; pitch++)
            {
                double a = 0, b = 0;
                for (var j = 1; j <= HarmonyPulses; j++)
                {
                    a += k - j >= 0 ? chroma[k - j][pitch] : 0;
                    b += k + j - 1 < chroma.Length ? chroma[k + j - 1][pitch] : 0;
                }

                ab += a * b;
                aa += a * a;
                bb += b * b;
            }

            change[k] = aa > 0 && bb > 0 ? 1 - (ab / Math.Sqrt(aa * bb)) : 0;
        }

        return change;
    }

    private static double[] Standard(double[] values)
    {
        var mean = values.Average();
        var deviation = Statistics.Deviation(values);
        return deviation < 1e-9 ? new double[values.Length] : Array.ConvertAll(values, value => (value - mean) / deviation);
    }
}
