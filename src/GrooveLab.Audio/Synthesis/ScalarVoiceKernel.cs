using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The inner loop of one voice, frame by frame: interpolate, filter, pan, send. The readable reference for the faster kernels. Each
/// frame depends only on the one before, so splitting a piece changes nothing.
/// </summary>
internal static class ScalarVoiceKernel
{
    /// <summary>Adds the voice's next frames to the mix.</summary>
    /// <param name="cursor">Its position in its sample; advanced past the last frame.</param>
    /// <param name="lanes">Its filter and gains.</param>
    /// <param name="lane">Its column in the lanes.</param>
    /// <param name="pool">The points.</param>
    /// <param name="weights">The table of eight weights, or null for the cubic through four points.</param>
    /// <param name="left">Mix, left; its length is the number of frames.</param>
    /// <param name="right">Mix, right.</param>
    /// <param name="reverb">Send to the reverb, or empty.</param>
    /// <param name="chorus">Send to the chorus, or empty.</param>
    public static void Render(
        ref SampleCursor cursor, VoiceLanes lanes, int lane, SamplePool pool, WeightTable? weights, Span<float> left, Span<float> right,
        Span<float> reverb, Span<float> chorus)
    {
        var hasSends = reverb.Length == left.Length && chorus.Length == left.Length;
        var isFiltered = lanes[LaneField.FilterMask, lane] != 0;
        for (var i = 0; i < left.Length; i++)
        {
            var sample = Next(ref cursor, pool, weights);
            if (isFiltered)
            {
                lanes[LaneField.A1, lane] += lanes[LaneField.A1Step, lane];
                lanes[LaneField.A2, lane] += lanes[LaneField.A2Step, lane];
                lanes[LaneField.A3, lane] += lanes[LaneField.A3Step, lane];
                sample = Filter(lanes, lane, sample);
            }
            else
            {
                // A filter that is switched on later starts as if it had settled here, without a click.
                lanes[LaneField.Filter2, lane] = sample;
            }

            left[i] += sample * (lanes[LaneField.Left, lane] += lanes[LaneField.LeftStep, lane]);
            right[i] += sample * (lanes[LaneField.Right, lane] += lanes[LaneField.RightStep, lane]);
            if (hasSends)
            {
                reverb[i] += sample * (lanes[LaneField.Reverb, lane] += lanes[LaneField.ReverbStep, lane]);
                chorus[i] += sample * (lanes[LaneField.Chorus, lane] += lanes[LaneField.ChorusStep, lane]);
            }
        }
    }

    private static float Next(ref SampleCursor cursor, SamplePool pool, WeightTable? weights)
    {
        unchecked
        {
            if ((int)(cursor.Position >> 32) >= cursor.End)
            {
                cursor.HasEnded = true;
                return 0;
            }
            var sample = weights is null ? CubicAt(cursor, pool) : Weighted(cursor, pool, weights);
            cursor.Advance();
            return sample;
        }
    }

    /// <summary>The cubic by its weights for the exact place (E. Catmull and R. Rom, A Class of Local Interpolating Splines, 1974).</summary>
    private static float CubicAt(in SampleCursor cursor, SamplePool pool)
    {
        var x = unchecked((uint)cursor.Position) / 4294967296.0;
        var place = unchecked((int)(cursor.Position >> 32));
        return (float)(((cursor.Point(pool, place - 1) * x * (-0.5 + (x * (1 - (0.5 * x)))))
            + (cursor.Point(pool, place) * (1 + (x * x * (-2.5 + (1.5 * x)))))
            + (cursor.Point(pool, place + 1) * x * (0.5 + (x * (2 - (1.5 * x)))))
            + (cursor.Point(pool, place + 2) * x * x * (-0.5 + (0.5 * x)))) / 32768);
    }

    private static float Weighted(in SampleCursor cursor, SamplePool pool, WeightTable weights)
    {
        var rounded = unchecked(cursor.Position + WeightTable.Half);
        var row = weights.Row(rounded);
        var first = unchecked((int)(rounded >> 32)) - WeightTable.Before;
        var sample = 0f;
        for (var tap = 0; tap < row.Length; tap++)
            sample += cursor.Point(pool, first + tap) * row[tap];
        return sample;
    }

    private static float Filter(VoiceLanes lanes, int lane, float sample)
    {
        var (first, second) = (lanes[LaneField.Filter1, lane], lanes[LaneField.Filter2, lane]);
        var input = sample - second;
        var band = (lanes[LaneField.A1, lane] * first) + (lanes[LaneField.A2, lane] * input);
        var low = second + (lanes[LaneField.A2, lane] * first) + (lanes[LaneField.A3, lane] * input);
        lanes[LaneField.Filter1, lane] = (2 * band) - first;
        lanes[LaneField.Filter2, lane] = (2 * low) - second;
        return low;
    }
}
