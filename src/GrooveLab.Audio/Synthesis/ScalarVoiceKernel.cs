using System.Numerics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The inner loop of one voice, one frame after another: interpolate, filter, pan, send. The readable truth that any faster kernel
/// is measured against. Each frame depends on the one before and on nothing else, so that splitting a piece changes nothing.
/// </summary>
internal static class ScalarVoiceKernel
{
    /// <summary>Adds the voice's next frames to the mix.</summary>
    /// <param name="voice">The voice; left as it is after the last frame.</param>
    /// <param name="points">The pool that the voice's addresses point into.</param>
    /// <param name="left">Mix, left; its length is the number of frames.</param>
    /// <param name="right">Mix, right.</param>
    /// <param name="reverb">Send to the reverb, or empty.</param>
    /// <param name="chorus">Send to the chorus, or empty.</param>
    public static void Render(
        ref VoiceSignal voice, ReadOnlySpan<short> points, Span<float> left, Span<float> right, Span<float> reverb, Span<float> chorus)
    {
        unchecked
        {
            // A local copy stays in registers; the field behind the reference would be stored at every step.
            var v = voice;
            var hasSends = reverb.Length == left.Length && chorus.Length == left.Length;
            var sample = 0f;
            for (var i = 0; i < left.Length; i++)
            {
                sample = 0f;
                var index = (int)(v.Position >> 32);
                if (index >= v.End)
                {
                    v.HasEnded = true;
                }
                else
                {
                    sample = Interpolate(ref v, points, index);
                    v.Position += v.Increment;
                    if (v.IsLooping && (int)(v.Position >> 32) >= v.LoopEnd)
                        WrapAround(ref v);
                }

                if (v.IsFiltered)
                {
                    v.A1 += v.A1Step;
                    v.A2 += v.A2Step;
                    v.A3 += v.A3Step;
                    var input = sample - v.Filter2;
                    var band = (v.A1 * v.Filter1) + (v.A2 * input);
                    var low = v.Filter2 + (v.A2 * v.Filter1) + (v.A3 * input);
                    v.Filter1 = (2 * band) - v.Filter1;
                    v.Filter2 = (2 * low) - v.Filter2;
                    sample = low;
                }

                v.Left += v.LeftStep;
                v.Right += v.RightStep;
                left[i] += sample * v.Left;
                right[i] += sample * v.Right;
                if (hasSends)
                {
                    v.Reverb += v.ReverbStep;
                    v.Chorus += v.ChorusStep;
                    reverb[i] += sample * v.Reverb;
                    chorus[i] += sample * v.Chorus;
                }
            }
            // A filter that is switched on later starts as if it had settled here, and so without a click.
            if (!v.IsFiltered)
                v.Filter2 = sample;
            voice = v;
        }
    }

    private static float Interpolate(ref VoiceSignal v, ReadOnlySpan<short> points, int index)
    {
        unchecked
        {
            ref readonly var weights = ref CubicTable.Row((uint)v.Position);
            var first = v.HasLooped ? v.LoopStart : v.Start;
            var limit = v.IsLooping ? v.LoopEnd : v.End;
            if (index > first && index + 2 < limit)
            {
                var p = points.Slice(index - 1, 4);
                return Vector4.Dot(new Vector4(p[0], p[1], p[2], p[3]), weights);
            }
            return Vector4.Dot(
                new Vector4(Point(ref v, points, index - 1), Point(ref v, points, index), Point(ref v, points, index + 1),
                    Point(ref v, points, index + 2)),
                weights);
        }
    }

    /// <summary>A point near an edge: round the loop where there is one, silence outside the sample.</summary>
    private static float Point(ref VoiceSignal v, ReadOnlySpan<short> points, int index)
    {
        unchecked
        {
            if (v.IsLooping && index >= v.LoopEnd)
                index -= v.LoopEnd - v.LoopStart;
            else if (v.HasLooped && index < v.LoopStart)
                index += v.LoopEnd - v.LoopStart;
            return index < v.Start || index >= v.End ? 0 : points[index];
        }
    }

    private static void WrapAround(ref VoiceSignal v)
    {
        unchecked
        {
            var start = (ulong)v.LoopStart << 32;
            var length = (ulong)(v.LoopEnd - v.LoopStart) << 32;
            // A remainder, not a subtraction: high up the keyboard one step can be longer than the loop.
            v.Position = start + ((v.Position - start) % length);
            v.HasLooped = true;
        }
    }
}
